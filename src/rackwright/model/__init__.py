"""What a rig is: frozen structs for equipment and rigs, the rules they obey, pure edits, and differences."""
