"""Reading and writing: rig files, equipment files, presets. Import from the modules; this one holds nothing."""
