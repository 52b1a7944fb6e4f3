"""An invented class that works through a challenge against the running server, as tablets do: over HTTP."""
