"""An answer turned into what is sent: envelope, text, table, picture."""
