"""An import contract: the module that describes a stage's data imports nothing else of that stage.

Data that other stages hold on to must not drag the algorithms along. A layers contract cannot say this for
every stage at once, as it needs a list of the other modules.
"""

from importlinter import Contract, ContractCheck, fields, output


class OwnModelContract(Contract):
    """`models`: an expression such as `slab_core.*.model`; each match may import no sibling."""

    type_name = "own_model"

    models = fields.StringField()

    def check(self, graph, verbose):  # type: ignore[no-untyped-def]  # the base class leaves these open too
        """Every direct import from a model into the rest of its own package."""
        links = [
            (model, imported)
            for model in sorted(graph.find_matching_modules(self.models))
            for imported in sorted(graph.find_modules_directly_imported_by(model))
            if imported.startswith(model.rpartition(".")[0] + ".")
        ]
        return ContractCheck(kept=not links, metadata={"links": links})

    def render_broken_contract(self, check):  # type: ignore[no-untyped-def]  # the same
        """Name each wrong import."""
        for model, imported in check.metadata["links"]:
            output.print_error(f"- {model} -> {imported}", bold=False)
        output.new_line()
