"""What is kept in English, told in the language of its reader."""
