"""Who goes where: amplifiers on circuits, by a search over plain numbers."""
