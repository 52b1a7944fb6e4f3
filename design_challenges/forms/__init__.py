"""Forms of the challenges' pages: what is asked, how it is read, and what is said when it cannot be."""
