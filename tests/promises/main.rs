//! One program, a module a promise to the user.

mod classroom;
mod damage;
mod folders;
mod layers;
mod marking;
mod measures;
mod page;
mod print;
mod rubrics;
mod steps;
#[cfg(unix)]
mod telephones;
mod wrong_files;
