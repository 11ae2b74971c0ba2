"""What fills the screen: what the keys of the workplace open."""
