"""How long reading and measuring take, beside plain decoding and a plain pipeline of library calls."""
