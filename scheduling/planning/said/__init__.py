"""What people say of hours, places and lengths of work: read, assumed where unsaid, imported."""
