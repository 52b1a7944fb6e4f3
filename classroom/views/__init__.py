"""The pages of the school's side; a view finds, asks a service, renders."""
