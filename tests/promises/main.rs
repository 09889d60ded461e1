//! One program, a module a promise to the user.

mod measures;
mod page;
mod print;
