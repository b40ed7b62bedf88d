"""What everything else stands upon: facts, units, exact numbers, words, tables of numbers, the patient's age."""
