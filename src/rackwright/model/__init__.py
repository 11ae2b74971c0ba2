"""What a rig is: frozen structs for equipment and rigs, the rules they obey, pure edits, and differences.

Computes no physics, reads no file. Import from the modules: `equipment`, `rig`, `index`, `rules`, `edit`,
`diff`.
"""
