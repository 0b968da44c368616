//! Many files in one go. `job.rs` is what is kept of an import, `rule.rs` says
//! which card a file is for, `gather.rs` finds the files of folders and zip
//! archives, `source.rs` gives their bytes, `reading.rs` reads the pages of
//! one, `likeness.rs` tells which layouts look the same, `run.rs` does a job
//! with several workers and keeps the outcomes in the files' order,
//! `report.rs` tells what came of it, and `service.rs` does the jobs that the
//! service was given.

mod gather;
mod job;
mod likeness;
mod reading;
mod report;
mod rule;
mod run;
mod service;
mod source;

pub(crate) use gather::{GatherError, gather, is_archive, shown_name, unpacked};
pub(crate) use job::{
    Counts, FileResult, FoundFile, ImportState, LayoutRead, Outcome, PageRead, PageResult, WaitingFile,
};
pub(crate) use likeness::Gallery;
pub(crate) use reading::read_page;
pub(crate) use report::{csv, summary, table};
pub(crate) use rule::{CardPlan, CardRule};
pub(crate) use run::{Progress, RunError, run};
pub(crate) use service::Importer;
pub(crate) use source::Source;
