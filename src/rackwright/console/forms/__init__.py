"""What a form asks for each kind of thing, and the edit that its values make."""
