"""An import contract: the modules that describe a stage's data import nothing else of that stage.

Data that other stages hold on to must not drag the algorithms along. A layers contract cannot say this for
every stage at once, as it needs a list of the other modules.
"""

from importlinter import Contract, ContractCheck, fields, output


class OwnModelContract(Contract):
    """`models`: an expression such as `slab_core.*.model`; each match, and each sibling whose name ends in
    `_model`, may import no sibling but such ones."""

    type_name = "own_model"

    models = fields.StringField()

    def check(self, graph, verbose):  # type: ignore[no-untyped-def]  # the base class leaves these open too
        """Every direct import from a model into the rest of its own package."""
        links = [
            (model, imported)
            for model in sorted(self._all_models(graph))
            for imported in sorted(graph.find_modules_directly_imported_by(model))
            if imported.startswith(model.rpartition(".")[0] + ".") and not imported.endswith("_model")
        ]
        return ContractCheck(kept=not links, metadata={"links": links})

    def _all_models(self, graph):  # type: ignore[no-untyped-def]  # the same
        """Large stages describe their data in more than one module."""
        beside = graph.find_matching_modules(f"{self.models.rpartition('.')[0]}.*")
        return {*graph.find_matching_modules(self.models), *(m for m in beside if m.endswith("_model"))}

    def render_broken_contract(self, check):  # type: ignore[no-untyped-def]  # the same
        """Name each wrong import."""
        for model, imported in check.metadata["links"]:
            output.print_error(f"- {model} -> {imported}", bold=False)
        output.new_line()
