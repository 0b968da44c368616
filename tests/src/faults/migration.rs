//! A notebook of the first form is opened by this program, which is killed
//! while it brings it up to date: it opens the next time, with everything.

use std::time::Duration;

use super::{Survived, assert_whole, killed, moment, started};
use crate::program::Service;
use crate::random::Random;

/// Layouts of the old notebook: enough that bringing it up to date takes a while.
const LAYOUTS: u64 = 400;
/// Later than that takes.
const LATEST: Duration = Duration::from_millis(400);

/// Kills the first start on an old notebook.
pub fn migration(rounds: u64) -> Survived {
    let old = tempfile::tempdir().expect("a folder can be made");
    api::ways_in::first_notebook(old.path(), LAYOUTS).expect("an old notebook can be made");
    let mut random = Random(59);
    let mut survived = Survived::default();
    for round in 0..rounds {
        let folder = tempfile::tempdir().expect("a folder can be made");
        for entry in std::fs::read_dir(old.path()).expect("the old notebook is there") {
            let from = entry.expect("its files are listed").path();
            let name = from.file_name().expect("a file has a name");
            std::fs::copy(&from, folder.path().join(name)).expect("a file can be copied");
        }
        let data = folder.path().to_str().expect("a plain path");
        let child = started(&["serve", "--data", data, "--listen", "127.0.0.1:0"]);
        std::thread::sleep(moment(&mut random, LATEST));
        survived.kills += u64::from(killed(child));
        let service = Service::start(folder.path(), &[]);
        let all = service.get("/api/layouts?limit=1").json();
        assert_eq!(all["total"].as_u64(), Some(LAYOUTS), "round {round}: {all}");
        let one = service.get(&format!("/api/layouts?text=edith%20{}", LAYOUTS / 2)).json();
        assert_eq!(one["total"].as_u64(), Some(1), "round {round}: {one}");
        survived.acknowledged += LAYOUTS;
        drop(service);
        assert_whole(folder.path());
    }
    survived
}
