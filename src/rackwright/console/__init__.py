"""The console: the Textual app. Shows what the model holds and the engine says; computes nothing itself.

`session` is the state behind the screen and knows no Textual; `editor` asks, edits and says; `rows` are what the rig
comes to in words; `widgets` put rows on the screen; `workplace` is the main screen, and `screens`, `forms` and
`commands` are what the keys of `keymap` open; `terminal` is between the toolkit and the terminal.
"""
