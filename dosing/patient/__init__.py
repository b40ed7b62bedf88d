"""What readings and doses say of the patient."""
