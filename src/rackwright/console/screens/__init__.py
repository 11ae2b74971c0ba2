"""What fills the screen: the workplace and what its keys open."""
