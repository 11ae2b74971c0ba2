"""The console: the Textual app. Shows what the model holds and the engine says; computes nothing itself.

`session` is the state behind the screen and knows no Textual; `views` turn it into rows; `panes` put rows
on the screen; `forms`, `screens` and `app` take the keys.
"""
