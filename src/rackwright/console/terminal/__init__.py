"""Between the toolkit and the terminal: what is sent, what is typed, which signs are drawn.

All that the console reaches of the toolkit beside its public interface, each with its reason; the toolkit's minor version
is pinned, and a test reads this list:

- `textual._xterm_parser`: what each sequence of a key or of the mouse is called (`input`).
- `LinuxDriver._file`: a terminal that has gone must not end the thread that writes to it (`input`).
- `Screen._dispatch_message`: what a handler raises is said, and the screen takes the next message (`widgets.screen`).
- `Screen._compositor_refresh`, `Screen._on_timer_update`, `Screen._update_timer`, `Screen._layout_required`: a key is painted
  once for all that it sets off (`widgets.screen`).
- `Screen._get_dispatch_methods`, `_no_default_action`: what handles a message is looked up once for each class (`handlers`).
- `_message_queue`, `_waiters` of its event: whether all that a key set off is done (`key_queue`).
- `textual._compositor`, `Compositor._dirty_regions`, `Compositor._regions_to_spans`, `Screen._compositor`: of each widget only
  the lines that changed are drawn (`composing`).
- `Screen._vertical_scrollbar`, `_start_widget`: a pane has a scroll bar of its own (`widgets.pane`).
- `App._disable_notifications`, `App._disable_tooltips`: none is ever shown, but each screen would hold both and lay itself out
  anew for them (`app`).
- `App._check_bindings`: that a key does nothing is said (`app`).
- `App._fatal_error`: what nothing can go on after ends with a sentence, not with a screen of code (`app`).
"""
