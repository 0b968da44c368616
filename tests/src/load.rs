//! Many people at once: clients that search, save and send photos for a while,
//! and others that hold connections open and send next to nothing.

#![expect(clippy::missing_panics_doc, reason = "it panics where a test cannot go on")]

use std::fs;
use std::io::{Read, Write};
use std::net::TcpStream;
use std::path::Path;
use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use serde_json::{Value, json};

use crate::program::{Client, Service};
use crate::random::Random;
use crate::records::thank_you;

/// How a run goes.
#[derive(Clone, Copy, Debug)]
pub struct Load {
    /// Clients that search, look at layouts and save.
    pub clients: u64,
    /// More clients that send photos, one after the other.
    pub senders: u64,
    /// Connections that send a byte now and then.
    pub drips: usize,
    /// How long.
    pub time: Duration,
    /// What a client does nothing for between two requests, at most: a person looks at the page.
    pub pause: Duration,
}

/// What is asked.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Asked {
    /// A search of the notebook.
    Search,
    /// One layout or its drawing.
    Look,
    /// A new layout, or a change of one.
    Save,
    /// A photo that is read.
    Photo,
}

impl Asked {
    /// All of them.
    pub const ALL: [Asked; 4] = [Asked::Search, Asked::Look, Asked::Save, Asked::Photo];

    /// In words.
    pub fn name(self) -> &'static str {
        match self {
            Asked::Search => "searches",
            Asked::Look => "layouts and drawings",
            Asked::Save => "saves",
            Asked::Photo => "photos read",
        }
    }
}

/// One answer: what was asked, its status, and how long it took.
pub type Answered = (Asked, u16, Duration);

/// What came of a run.
#[derive(Debug, Default)]
pub struct Outcome {
    /// Every answer.
    pub answers: Vec<Answered>,
    /// Requests without an answer, in words.
    pub broken: Vec<String>,
    /// Resident memory of the service and the processes it reads in, every
    /// second, in MB.
    pub memory_mb: Vec<f64>,
    /// Dripping connections that the service had closed by the end.
    pub drips_closed: usize,
    /// Layouts that were said to be saved and are not there.
    pub lost: usize,
    /// Saves that were answered.
    pub saved: usize,
}

impl Outcome {
    /// The times of one kind of request that were answered well, sorted.
    pub fn times(&self, asked: Asked) -> Vec<Duration> {
        let well = |answer: &&Answered| answer.0 == asked && answer.1 < 400;
        let mut times: Vec<Duration> = self.answers.iter().filter(well).map(|answer| answer.2).collect();
        times.sort();
        times
    }

    /// How many answers of a kind had this status.
    pub fn count(&self, asked: Asked, status: u16) -> usize {
        self.answers.iter().filter(|answer| (answer.0, answer.1) == (asked, status)).count()
    }

    /// Answers that are neither success nor an honest "busy".
    pub fn errors(&self) -> usize {
        self.answers.iter().filter(|answer| answer.1 >= 400 && answer.1 != 503).count() + self.broken.len()
    }
}

/// The value below which so many of sorted values lie.
pub fn quantile<T: Copy + Default>(sorted: &[T], part: f64) -> T {
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "an index")]
    let index = (sorted.len() as f64 * part) as usize;
    sorted.get(index.min(sorted.len().saturating_sub(1))).copied().unwrap_or_default()
}

/// Puts a service under load and stops it in the middle of it.
pub fn run(load: Load, photo: &[u8], data: &Path) -> Outcome {
    let mut service = Service::start(data, &["--workers", "2"]);
    for index in 0..200 {
        let saved = service.json("POST", "/api/layouts", &[], &thank_you(&format!("Card {index}")));
        assert_eq!(saved.status, 201, "{}", saved.json());
    }
    let all = Mutex::new(Outcome::default());
    let stop = AtomicBool::new(false);
    let drips = std::thread::scope(|scope| {
        let drips = scope.spawn(|| drip(&service.url, load.drips, &stop));
        for number in 0..load.clients + load.senders {
            let (client, all, stop) = (service.client(), &all, &stop);
            scope.spawn(move || {
                let photo = (number >= load.clients).then_some(photo);
                let mut own = Own { client, random: Random(number), saved: Vec::new(), answers: Vec::new() };
                let mut broken = None;
                while !stop.load(Ordering::Relaxed) && broken.is_none() {
                    let done = match photo {
                        Some(photo) => own.send(photo),
                        None => own.one(),
                    };
                    broken = done.err();
                    std::thread::sleep(load.pause.mul_f64(own.random.uniform()));
                }
                let lost = own.saved.iter().filter(|saved| !own.is_there(saved)).count();
                let mut all = all.lock().expect("no client panics");
                all.answers.extend(own.answers);
                all.broken.extend(broken);
                all.lost += lost;
                all.saved += own.saved.len();
            });
        }
        let begun = Instant::now();
        while begun.elapsed() < load.time {
            std::thread::sleep(Duration::from_secs(1));
            let memory = memory_mb(service.id());
            all.lock().expect("no client panics").memory_mb.push(memory);
        }
        stop.store(true, Ordering::Relaxed);
        drips.join().expect("nothing in it panics")
    });
    let code = service.stop();
    assert_eq!(code, Some(0), "it does not stop in order");
    let mut outcome = all.into_inner().expect("no client panics");
    outcome.drips_closed = drips;
    outcome
}

/// One client, and what it knows.
struct Own {
    client: Client,
    random: Random,
    /// Address, version tag and title of what it was told is saved.
    saved: Vec<(String, String, String)>,
    answers: Vec<Answered>,
}

impl Own {
    fn ask(
        &mut self,
        asked: Asked,
        method: &str,
        path: &str,
        body: Option<(&str, &Value)>,
    ) -> Result<(String, String, u16), String> {
        let begun = Instant::now();
        let answer = match body {
            Some((etag, record)) => {
                let with: &[(&str, &str)] = &[("if-match", etag)];
                self.client.json(method, path, if etag.is_empty() { &[] } else { with }, record)
            }
            None => self.client.send(method, path, &[], b""),
        };
        let answer = answer.map_err(|error| format!("{method} {path}: {error}"))?;
        self.answers.push((asked, answer.status, begun.elapsed()));
        Ok((answer.header("location").to_owned(), answer.header("etag").to_owned(), answer.status))
    }

    /// Something that somebody at the page does.
    fn one(&mut self) -> Result<(), String> {
        let dice = self.random.uniform();
        let number = 1 + self.random.below(200);
        if dice < 0.5 {
            let search = match number % 4 {
                0 => "text=card",
                1 => "shapes=circle",
                2 => "text=thursday&order=title",
                _ => "tag=thanks&limit=20",
            };
            self.ask(Asked::Search, "GET", &format!("/api/layouts?{search}"), None)?;
        } else if dice < 0.75 {
            let form = if number.is_multiple_of(2) { "" } else { "/drawing.svg" };
            self.ask(Asked::Look, "GET", &format!("/api/layouts/{number}{form}"), None)?;
        } else if dice < 0.9 || self.saved.is_empty() {
            let title = format!("Saved {:.9}", self.random.uniform());
            let (place, etag, status) =
                self.ask(Asked::Save, "POST", "/api/layouts", Some(("", &thank_you(&title))))?;
            if status == 201 {
                self.saved.push((place, etag, title));
            }
        } else {
            let index = self.random.below(self.saved.len());
            let (place, etag, _) = self.saved[index].clone();
            let title = format!("Changed {:.9}", self.random.uniform());
            let (_, next, status) =
                self.ask(Asked::Save, "PUT", &place, Some((&etag, &thank_you(&title))))?;
            if status == 200 {
                self.saved[index] = (place, next, title);
            }
        }
        Ok(())
    }

    /// A photo like the others, but not the same file.
    fn send(&mut self, photo: &[u8]) -> Result<(), String> {
        let mut bytes = photo.to_vec();
        // After the end of a JPEG nothing counts.
        bytes.extend(self.random.uniform().to_bits().to_be_bytes());
        let begun = Instant::now();
        let answer =
            self.client.photo(&bytes, &[("card", "A2")]).map_err(|error| format!("a photo: {error}"))?;
        self.answers.push((Asked::Photo, answer.status, begun.elapsed()));
        Ok(())
    }

    fn is_there(&self, (place, etag, title): &(String, String, String)) -> bool {
        self.client
            .send("GET", place, &[], b"")
            .is_ok_and(|answer| answer.header("etag") == etag && answer.json()["title"] == json!(title))
    }
}

/// Opens connections that begin a request and never end it: half of them in
/// its head, half in its body. Gives how many the service has closed when it is over.
fn drip(url: &str, count: usize, stop: &AtomicBool) -> usize {
    let address = url.trim_start_matches("http://").to_owned();
    let mut streams: Vec<Option<TcpStream>> = (0..count)
        .map(|index| {
            let mut stream = TcpStream::connect(&address).ok()?;
            stream.set_read_timeout(Some(Duration::from_millis(5))).ok()?;
            let head = if index % 2 == 0 {
                format!("GET / HTTP/1.1\r\nHost: {address}\r\nX-Slow: ")
            } else {
                format!(
                    "POST /api/imports HTTP/1.1\r\nHost: {address}\r\nContent-Length: 1000000\r\n\
                     Content-Type: multipart/form-data; boundary=b\r\n\r\n--b\r\n"
                )
            };
            stream.write_all(head.as_bytes()).ok()?;
            Some(stream)
        })
        .collect();
    while !stop.load(Ordering::Relaxed) {
        std::thread::sleep(Duration::from_millis(500));
        for place in &mut streams {
            let open = place.as_mut().is_some_and(|stream| {
                let mut answer = [0; 256];
                let read = stream.read(&mut answer);
                let waits = read.as_ref().is_err_and(|error| {
                    matches!(error.kind(), std::io::ErrorKind::WouldBlock | std::io::ErrorKind::TimedOut)
                });
                waits && stream.write_all(b"x").is_ok()
            });
            if !open {
                *place = None;
            }
        }
    }
    streams.iter().filter(|stream| stream.is_none()).count()
}

/// Resident memory of a process and its children, in MB; 0 where the system does not tell.
fn memory_mb(process: u32) -> f64 {
    let field = |status: &str, name: &str| -> Option<f64> {
        let line = status.lines().find(|line| line.starts_with(name))?;
        line.split_whitespace().nth(1)?.parse().ok()
    };
    let mut kilobytes = 0.0;
    for entry in fs::read_dir("/proc").into_iter().flatten().flatten() {
        let Ok(status) = fs::read_to_string(entry.path().join("status")) else { continue };
        let own = entry.file_name().to_string_lossy() == process.to_string();
        if own || field(&status, "PPid:") == Some(f64::from(process)) {
            kilobytes += field(&status, "VmRSS:").unwrap_or(0.0);
        }
    }
    kilobytes / 1024.0
}
