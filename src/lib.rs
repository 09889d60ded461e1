//! lodemark: prints magnetic-field worksheets, reads the drawn sheets back, compares the drawn lines
//! with the computed field and proposes marks to a teacher.
//!
//! A line a module, in the order in which data flows:
//!
//! - [`geometry`]: places and steps on the paper, polylines, homographies, distances between curves
//! - [`stats`]: rank correlation
//! - [`problem`]: the one error a user reads
//! - [`field`]: flux density, field lines and neutral points of magnets, in closed form
//! - [`worksheet`]: worksheet.yaml, checked, and the bodies of field that it stands for
//! - [`print`]: the printed page and the answer picture
//! - [`drawing`]: what a student drew: lines, arrowheads, meetings, dots
//! - [`scan`]: files of any kind to page images
//! - [`rectify`]: page image to flat page, and whose it is
//! - [`ink`]: flat page to the student's ink, thinned
//! - [`traced`]: plain paper on which magnets were traced: where they lie, and the ink beside them
//! - [`vectorise`]: thinned ink to a drawing
//! - [`measure`]: drawing and field to named measures
//! - [`ideas`]: findings to students' usual ideas
//! - [`rubric`]: measures to marks and words
//! - [`class`]: the class folder
//! - [`report`]: feedback pages and the set on one page
//! - [`run`]: the pipeline behind `mark` and `check`
//! - [`cli`]: the commands

pub mod class;
pub mod cli;
pub mod drawing;
pub mod field;
pub mod geometry;
pub mod ideas;
pub mod ink;
pub mod measure;
pub mod print;
pub mod problem;
pub mod rectify;
pub mod report;
pub mod rubric;
pub mod run;
pub mod scan;
pub mod stats;
pub mod traced;
pub mod vectorise;
pub mod worksheet;
