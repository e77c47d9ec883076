//! Library of the glueday program.
