//! One program, a module a promise to the user.

mod arrangements;
mod axe;
mod browser;
mod chapter;
mod classroom;
mod corpus;
mod damage;
mod folders;
mod ideas;
mod layers;
mod looks;
mod makers;
mod marking;
mod measures;
mod one_round;
mod outputs;
mod page;
mod panels;
mod pictures;
mod plotting;
mod print;
mod ready;
mod rubrics;
mod ruled;
mod several;
mod steps;
mod teacher;
#[cfg(unix)]
mod telephones;
mod traced;
mod tracing;
mod wrong_files;
