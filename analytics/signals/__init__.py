"""What deserves a look: signals opened, shown to whom they concern, reviewed, and followed up."""
