"""From the book to a plan of crews and days, and from an accepted plan back to bookings."""
