"""What screens are made of: panes, status lines, forms, dialogs."""
