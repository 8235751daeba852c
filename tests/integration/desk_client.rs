//! A running desk and a browser's requests to it, byte by byte.

use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::process::{Child, Stdio};
use std::time::{Duration, Instant};

use serde_json::Value;

use crate::workspace_folder::Folder;

/// What came back.
pub(crate) struct Answer {
    pub(crate) status: u16,
    /// Lines of the head, names in lower case.
    pub(crate) head: String,
    pub(crate) body: Vec<u8>,
}

impl Answer {
    pub(crate) fn text(&self) -> String {
        String::from_utf8_lossy(&self.body).into_owned()
    }

    pub(crate) fn json(&self) -> Value {
        serde_json::from_slice(&self.body).unwrap_or_else(|e| panic!("{e} in {}", self.text()))
    }

    /// The value of a header.
    pub(crate) fn header(&self, name: &str) -> Option<&str> {
        self.head
            .lines()
            .find_map(|l| l.strip_prefix(&format!("{name}: ")))
    }

    #[track_caller]
    pub(crate) fn is(self, status: u16) -> Self {
        assert_eq!(self.status, status, "{}\n{}", self.head, self.text());
        self
    }
}

/// A desk of a folder's workspace; ended when dropped.
pub(crate) struct Running {
    child: Child,
    pub(crate) port: u16,
    /// The address that was printed, without the server's part.
    pub(crate) entrance: String,
    /// `name=value`.
    pub(crate) cookie: String,
    pub(crate) word: String,
}

impl Drop for Running {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

impl Running {
    /// Starts it and enters as a browser does.
    pub(crate) fn start(folder: &Folder) -> Self {
        let mut child = folder
            .command(&["desk", "--no-browser"])
            .stdout(Stdio::piped())
            .stderr(Stdio::inherit())
            .spawn()
            .unwrap();
        let mut line = String::new();
        let out = child.stdout.take().unwrap();
        BufReader::new(out).read_line(&mut line).unwrap();
        let address = line.trim().strip_prefix("desk: http://127.0.0.1:").unwrap();
        let (port, path) = address.split_once('/').unwrap();
        let mut running = Self {
            child,
            port: port.parse().unwrap(),
            entrance: format!("/{path}"),
            cookie: String::new(),
            word: String::new(),
        };
        let entered = running
            .bare("GET", &running.entrance.clone(), &[], b"")
            .is(200);
        let cookie = entered.header("set-cookie").unwrap();
        running.cookie = cookie.split(';').next().unwrap().to_owned();
        let page = running.get("/").is(200).text();
        let word = page
            .split("name=\"footring-word\" content=\"")
            .nth(1)
            .unwrap();
        running.word = word.split('"').next().unwrap().to_owned();
        running
    }

    pub(crate) fn host(&self) -> String {
        format!("127.0.0.1:{}", self.port)
    }

    /// A request with these headers and no others but the needed ones.
    pub(crate) fn bare(
        &self,
        method: &str,
        path: &str,
        headers: &[(&str, &str)],
        body: &[u8],
    ) -> Answer {
        let mut stream = TcpStream::connect(("127.0.0.1", self.port)).unwrap();
        stream
            .set_read_timeout(Some(Duration::from_secs(120)))
            .unwrap();
        let mut head = format!("{method} {path} HTTP/1.1\r\nConnection: close\r\n");
        if !headers.iter().any(|(n, _)| *n == "Host") {
            head += &format!("Host: {}\r\n", self.host());
        }
        for (name, value) in headers {
            head += &format!("{name}: {value}\r\n");
        }
        head += &format!("Content-Length: {}\r\n\r\n", body.len());
        stream.write_all(head.as_bytes()).unwrap();
        // A server that refuses may close before all was sent.
        let _ = stream.write_all(body);
        let mut all = Vec::new();
        let _ = stream.read_to_end(&mut all);
        let end = all
            .windows(4)
            .position(|w| w == b"\r\n\r\n")
            .unwrap_or_else(|| {
                panic!("no head in {:?}", String::from_utf8_lossy(&all));
            });
        let head = String::from_utf8_lossy(&all[..end]).into_owned();
        Answer {
            status: head.split(' ').nth(1).unwrap().parse().unwrap(),
            head,
            body: all[end + 4..].to_vec(),
        }
    }

    /// As a page of the desk asks.
    pub(crate) fn get(&self, path: &str) -> Answer {
        self.bare("GET", path, &[("Cookie", &self.cookie)], b"")
    }

    /// As a page of the desk changes something.
    pub(crate) fn post(&self, path: &str, content: &Value) -> Answer {
        self.send(path, "application/json", content.to_string().as_bytes())
    }

    pub(crate) fn send(&self, path: &str, kind: &str, body: &[u8]) -> Answer {
        let origin = format!("http://{}", self.host());
        let headers = [
            ("Cookie", self.cookie.as_str()),
            ("Origin", &origin),
            ("X-Footring-Word", &self.word),
            ("Content-Type", kind),
        ];
        self.bare("POST", path, &headers, body)
    }

    /// Waits until nothing is under way; gives the last state.
    pub(crate) fn finished(&self) -> Value {
        let until = Instant::now() + Duration::from_secs(120);
        loop {
            let job = self.get("/job").is(200).json();
            let over = ["idle", "done", "failed"].contains(&job["state"].as_str().unwrap());
            if over && job["waiting"] == 0 && job["ended"] != 0 {
                return job;
            }
            assert!(Instant::now() < until, "{job}");
            std::thread::sleep(Duration::from_millis(50));
        }
    }

    /// Ends it as Ctrl-C does, and gives the exit code.
    #[cfg(unix)]
    pub(crate) fn interrupt(mut self) -> Option<i32> {
        let id = self.child.id().to_string();
        std::process::Command::new("kill")
            .args(["-INT", &id])
            .status()
            .unwrap();
        self.child.wait().unwrap().code()
    }
}
