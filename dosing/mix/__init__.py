"""How drugs are mixed, stocked, drawn up and labeled."""
