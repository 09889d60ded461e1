//! Feedback, class page and teacher's page as PDF: A4 upright, black and white, letters of an embedded font, the same bytes for
//! the same input. A student's sheet has an even number of pages, so that a stack printed on both sides comes
//! apart at the right places.

mod bench;
mod class;
mod drawing;
mod paper;
mod student;
mod teacher;

pub use class::class_pdf;
pub use student::feedback_pdf;
pub use teacher::teacher_pdf;

/// Why no PDF was made: in words.
pub type PdfError = String;
