"""What people and other programs are shown of a ladder and of an outing: tables, pictures, files."""
