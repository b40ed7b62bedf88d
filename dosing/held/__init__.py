"""What syringes, bags and cylinders still hold, and how long it lasts."""
