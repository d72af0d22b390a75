"""What else is written when a step is finished, in the same transaction. One line a hook."""

from slab_app.work import alternates_hook, quotes_hook
from slab_app.work.ports import OnFinished

ON_FINISHED: tuple[OnFinished, ...] = (quotes_hook.on_finished, alternates_hook.on_finished)
