//! The built program, run as its users run it.

#![expect(clippy::missing_panics_doc, reason = "it panics where a test cannot go on")]

use std::env;
use std::io::{BufRead, BufReader, Read};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Output, Stdio};
use std::sync::{Arc, Mutex, OnceLock, PoisonError};
use std::time::{Duration, Instant};

use serde_json::Value;
use ureq::http::{HeaderMap, Request};

/// The program, built if it is not up to date. `EIGHTHS` names another one.
pub fn path() -> &'static Path {
    static PATH: OnceLock<PathBuf> = OnceLock::new();
    PATH.get_or_init(|| {
        if let Some(path) = env::var_os("EIGHTHS") {
            return path.into();
        }
        let test = env::current_exe().expect("a test knows its own file");
        // target/PROFILE/deps/TEST
        let profile = test.ancestors().nth(2).expect("tests lie two folders below the target folder");
        let mut build = Command::new(env!("CARGO"));
        build.args(["build", "--quiet", "--package", "api", "--bin", "eighths"]);
        if profile.ends_with("release") {
            build.arg("--release");
        }
        let status = build.current_dir(env!("CARGO_MANIFEST_DIR")).status().expect("cargo can be started");
        assert!(status.success(), "the program does not build");
        profile.join(format!("eighths{}", env::consts::EXE_SUFFIX))
    })
}

/// Runs the program to its end.
pub fn run(args: &[&str]) -> Output {
    Command::new(path()).args(args).stdin(Stdio::null()).output().expect("the program can be started")
}

/// A running service. Dropping it kills it.
pub struct Service {
    child: Child,
    /// `http://127.0.0.1:PORT`
    pub url: String,
    client: Client,
    said: Arc<Mutex<Vec<u8>>>,
}

/// Sends requests to a service. Clones share their connections.
#[derive(Clone)]
pub struct Client {
    url: String,
    agent: ureq::Agent,
}

/// What a service answered.
#[derive(Debug)]
pub struct Answer {
    /// The HTTP status.
    pub status: u16,
    /// The headers.
    pub headers: HeaderMap,
    /// The body.
    pub body: Vec<u8>,
}

impl Answer {
    /// A header's text; empty when it is not there.
    pub fn header(&self, name: &str) -> &str {
        self.headers.get(name).and_then(|value| value.to_str().ok()).unwrap_or_default()
    }

    /// The body as JSON; null when it is none.
    pub fn json(&self) -> Value {
        serde_json::from_slice(&self.body).unwrap_or_default()
    }
}

impl Service {
    /// Starts a service on a data folder, at a free port.
    pub fn start(data: &Path, args: &[&str]) -> Service {
        let mut command = Command::new(path());
        command.arg("serve").arg("--data").arg(data).args(["--listen", "127.0.0.1:0"]).args(args);
        Service::start_by(command)
    }

    /// Starts a service by a command that ends in one, at a free port.
    pub fn start_by(mut command: Command) -> Service {
        let mut child =
            command.stdin(Stdio::null()).stdout(Stdio::piped()).spawn().expect("the program can be started");
        let mut said = BufReader::new(child.stdout.take().expect("its output is piped"));
        let mut line = String::new();
        said.read_line(&mut line).expect("its output can be read");
        let url = line.trim().strip_prefix("eighths is at ").unwrap_or_else(|| panic!("it said {line:?}"));
        let url = url.trim_end_matches('/').to_owned();
        // What else it says must not fill the pipe.
        let heard = Arc::new(Mutex::new(Vec::new()));
        let ear = Arc::clone(&heard);
        std::thread::spawn(move || {
            let mut part = [0; 4096];
            while let Ok(count @ 1..) = said.read(&mut part) {
                ear.lock().unwrap_or_else(PoisonError::into_inner).extend_from_slice(&part[..count]);
            }
        });
        Service { child, client: Client::at(&url), url, said: heard }
    }

    /// What it has said so far, after its address.
    pub fn said(&self) -> String {
        String::from_utf8_lossy(&self.said.lock().unwrap_or_else(PoisonError::into_inner)).into_owned()
    }

    /// The process's number.
    pub fn id(&self) -> u32 {
        self.child.id()
    }

    /// A client that outlives the service.
    pub fn client(&self) -> Client {
        self.client.clone()
    }

    /// Sends a request.
    pub fn send(&self, method: &str, path: &str, headers: &[(&str, &str)], body: &[u8]) -> Answer {
        answered(self.client.send(method, path, headers, body))
    }

    /// Gets an address.
    pub fn get(&self, path: &str) -> Answer {
        self.send("GET", path, &[], b"")
    }

    /// Sends JSON.
    pub fn json(&self, method: &str, path: &str, headers: &[(&str, &str)], body: &Value) -> Answer {
        answered(self.client.json(method, path, headers, body))
    }

    /// Sends a photo with other form fields.
    pub fn photo(&self, bytes: &[u8], fields: &[(&str, &str)]) -> Answer {
        answered(self.client.photo(bytes, fields))
    }

    /// Kills it at once, as a power cut would: it gets no chance to end well.
    pub fn kill(&mut self) {
        self.child.kill().expect("a child can be killed");
        self.child.wait().expect("a child can be waited for");
    }

    /// Asks it to stop and waits until it has; gives its exit code.
    pub fn stop(&mut self) -> Option<i32> {
        let id = self.child.id().to_string();
        let asked = Command::new("kill").args(["-TERM", &id]).status().expect("kill can be started");
        assert!(asked.success());
        let begun = Instant::now();
        while begun.elapsed() < Duration::from_secs(20) {
            if let Some(status) = self.child.try_wait().expect("a child can be waited for") {
                return status.code();
            }
            std::thread::sleep(Duration::from_millis(10));
        }
        panic!("it does not stop");
    }
}

fn answered(result: Result<Answer, ureq::Error>) -> Answer {
    result.unwrap_or_else(|error| panic!("a request was not answered: {error}"))
}

/// An error of these is a broken connection.
impl Client {
    /// A client of the service at an address: `http://192.168.1.20:8118`.
    pub fn at(url: &str) -> Client {
        let agent = ureq::Agent::config_builder()
            .http_status_as_error(false)
            .max_redirects(0)
            .timeout_global(Some(Duration::from_mins(1)))
            .build()
            .into();
        Client { url: url.to_owned(), agent }
    }

    /// Sends a request.
    pub fn send(
        &self,
        method: &str,
        path: &str,
        headers: &[(&str, &str)],
        body: &[u8],
    ) -> Result<Answer, ureq::Error> {
        let mut request = Request::builder().method(method).uri(format!("{}{path}", self.url));
        for (name, value) in headers {
            request = request.header(*name, *value);
        }
        let expect = "the tests' own headers are well-formed";
        let response = if body.is_empty() {
            self.agent.run(request.body(()).expect(expect))
        } else {
            self.agent.run(request.body(body.to_vec()).expect(expect))
        };
        let (parts, body) = response?.into_parts();
        let mut bytes = Vec::new();
        body.into_reader().read_to_end(&mut bytes)?;
        Ok(Answer { status: parts.status.as_u16(), headers: parts.headers, body: bytes })
    }

    /// Sends JSON.
    pub fn json(
        &self,
        method: &str,
        path: &str,
        headers: &[(&str, &str)],
        body: &Value,
    ) -> Result<Answer, ureq::Error> {
        let headers = [headers, &[("content-type", "application/json")]].concat();
        self.send(method, path, &headers, body.to_string().as_bytes())
    }

    /// Sends a photo with other form fields.
    pub fn photo(&self, bytes: &[u8], fields: &[(&str, &str)]) -> Result<Answer, ureq::Error> {
        let (kind, body) = photo_form(bytes, fields);
        self.send("POST", "/api/photos", &[("content-type", &kind)], &body)
    }
}

impl Drop for Service {
    fn drop(&mut self) {
        // It may have ended already.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// What stands between the parts of a form.
const BOUNDARY: &str = "8f1c2d-between-the-parts";

/// The form a photo is sent in: its content type and bytes.
pub fn photo_form(bytes: &[u8], fields: &[(&str, &str)]) -> (String, Vec<u8>) {
    form("photo", &[("layout.jpg".to_owned(), bytes.to_vec())], fields)
}

/// The form in which files are sent to an import: its content type and bytes.
pub fn files_form(files: &[(String, Vec<u8>)], fields: &[(&str, &str)]) -> (String, Vec<u8>) {
    form("file", files, fields)
}

fn form(field: &str, files: &[(String, Vec<u8>)], fields: &[(&str, &str)]) -> (String, Vec<u8>) {
    let mut body = Vec::new();
    for (name, value) in fields {
        let part =
            format!("--{BOUNDARY}\r\ncontent-disposition: form-data; name=\"{name}\"\r\n\r\n{value}\r\n");
        body.extend(part.as_bytes());
    }
    for (name, bytes) in files {
        let head = format!(
            "--{BOUNDARY}\r\ncontent-disposition: form-data; name=\"{field}\"; filename=\"{name}\"\r\n\
             content-type: application/octet-stream\r\n\r\n"
        );
        body.extend(head.as_bytes());
        body.extend(bytes);
        body.extend(b"\r\n");
    }
    body.extend(format!("--{BOUNDARY}--\r\n").as_bytes());
    (format!("multipart/form-data; boundary={BOUNDARY}"), body)
}
