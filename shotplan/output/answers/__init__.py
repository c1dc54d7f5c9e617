"""What the advising commands answer: styles, spots, light, survey."""
