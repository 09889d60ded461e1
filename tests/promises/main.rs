//! One program, a module a promise to the user.

mod page;
mod print;
