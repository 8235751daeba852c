//! Who may ask, and what a browser may do with the answers.
//!
//! The desk listens on the loopback address only, which any page in the same browser and any program on the
//! same machine can reach. So the name that was asked for must be one of this machine (a foreign name that was
//! pointed at 127.0.0.1, DNS rebinding, is refused), whoever asks must hold the key of this start, and a change
//! must come from a page of the desk itself.

use std::sync::{Mutex, PoisonError};

use axum::http::header::{COOKIE, HOST, ORIGIN};
use axum::http::{HeaderMap, HeaderName, HeaderValue, Method, StatusCode};

/// Carries the word that only pages of the desk know, with every change.
pub(super) const WORD: HeaderName = HeaderName::from_static("x-footring-word");

/// What a page may do: nothing but what this server itself serves, and no script or style inside a page.
pub(super) const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; \
    connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'";

/// Why a request is refused.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Refusal {
    /// Asked for under a name that is not this machine's.
    ForeignName,
    /// Without the key of this start.
    NoKey,
    /// A change that does not come from a page of the desk.
    ForeignPage,
}

impl Refusal {
    pub(super) fn status(self) -> StatusCode {
        match self {
            Self::ForeignName => StatusCode::MISDIRECTED_REQUEST,
            Self::NoKey => StatusCode::UNAUTHORIZED,
            Self::ForeignPage => StatusCode::FORBIDDEN,
        }
    }

    pub(super) fn says(self) -> &'static str {
        match self {
            Self::ForeignName => "The desk answers to 127.0.0.1 and localhost only.",
            Self::NoKey => {
                "This browser does not hold the key of this start. Open the address that `footring` printed."
            }
            Self::ForeignPage => {
                "This change did not come from a page of the desk, so nothing was done."
            }
        }
    }
}

/// The secrets of one start.
#[derive(Debug)]
pub(super) struct Keys {
    port: u16,
    /// In the cookie.
    key: String,
    /// In each page, sent along with every change.
    word: String,
    /// Good for one entrance: the address that is handed to the browser may be seen by others in the list of
    /// processes.
    ticket: Mutex<Option<String>>,
    /// Good for as long as the desk runs: the address that is printed.
    pass: String,
}

/// Bytes of chance in a secret: as many as the strongest keys in common use have.
const SECRET_BYTES: usize = 32;

fn secret() -> Result<String, getrandom::Error> {
    let mut bytes = [0_u8; SECRET_BYTES];
    getrandom::fill(&mut bytes)?;
    Ok(bytes.iter().map(|b| format!("{b:02x}")).collect())
}

/// Compared by their hashes, so that the time taken tells nothing.
fn same(a: &str, b: &str) -> bool {
    blake3::hash(a.as_bytes()) == blake3::hash(b.as_bytes())
}

impl Keys {
    /// New secrets for a desk at `port`.
    ///
    /// # Errors
    /// Where the system has no source of chance.
    pub(super) fn new(port: u16) -> Result<Self, getrandom::Error> {
        Ok(Self {
            port,
            key: secret()?,
            word: secret()?,
            ticket: Mutex::new(Some(secret()?)),
            pass: secret()?,
        })
    }

    pub(super) fn word(&self) -> &str {
        &self.word
    }

    /// The address to print.
    pub(super) fn address(&self) -> String {
        format!("http://127.0.0.1:{}/enter?pass={}", self.port, self.pass)
    }

    /// The address to hand to the browser; `None` once it was used.
    pub(super) fn ticket_address(&self) -> Option<String> {
        let ticket = self.ticket.lock().unwrap_or_else(PoisonError::into_inner);
        let ticket = ticket.as_ref()?;
        Some(format!(
            "http://127.0.0.1:{}/enter?pass={ticket}",
            self.port
        ))
    }

    /// Takes a pass; gives the cookie to set.
    pub(super) fn enter(&self, pass: &str) -> Option<String> {
        let mut ticket = self.ticket.lock().unwrap_or_else(PoisonError::into_inner);
        let by_ticket = ticket.as_ref().is_some_and(|t| same(t, pass));
        if by_ticket {
            *ticket = None;
        }
        (by_ticket || same(&self.pass, pass)).then(|| {
            format!(
                "{}={}; Path=/; HttpOnly; SameSite=Strict",
                self.cookie_name(),
                self.key
            )
        })
    }

    /// Cookies are shared by all ports of a name, so that two desks need two names.
    fn cookie_name(&self) -> String {
        format!("footring-{}", self.port)
    }

    /// Whether the name asked for is this machine's.
    pub(super) fn name_is_ours(&self, headers: &HeaderMap) -> Result<(), Refusal> {
        let mut hosts = headers.get_all(HOST).iter();
        let host = hosts.next().and_then(|h| h.to_str().ok());
        let ours = host.is_some_and(|h| self.hosts().iter().any(|own| own == h));
        match ours && hosts.next().is_none() {
            true => Ok(()),
            false => Err(Refusal::ForeignName),
        }
    }

    fn hosts(&self) -> [String; 2] {
        ["127.0.0.1", "localhost"].map(|name| format!("{name}:{}", self.port))
    }

    /// Whether whoever asks may read.
    pub(super) fn may_read(&self, headers: &HeaderMap) -> Result<(), Refusal> {
        let name = self.cookie_name();
        let cookies = headers.get_all(COOKIE).iter();
        let own = cookies
            .filter_map(|c| c.to_str().ok())
            .flat_map(|c| c.split(';'))
            .filter_map(|c| c.trim().split_once('='))
            .any(|(n, value)| n == name && same(value, &self.key));
        match own {
            true => Ok(()),
            false => Err(Refusal::NoKey),
        }
    }

    /// Whether a request that may read may also change something. `GET` and `HEAD` never do.
    pub(super) fn may_change(&self, method: &Method, headers: &HeaderMap) -> Result<(), Refusal> {
        if *method == Method::GET || *method == Method::HEAD {
            return Ok(());
        }
        let text =
            |value: Option<&HeaderValue>| value.and_then(|v| v.to_str().ok()).map(str::to_owned);
        let origin = text(headers.get(ORIGIN));
        let from_us =
            origin.is_some_and(|o| self.hosts().iter().any(|h| o == format!("http://{h}")));
        let knows = text(headers.get(WORD)).is_some_and(|w| same(&w, &self.word));
        match from_us && knows {
            true => Ok(()),
            false => Err(Refusal::ForeignPage),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn headers(of: &[(HeaderName, &str)]) -> HeaderMap {
        let mut map = HeaderMap::new();
        for (name, value) in of {
            map.append(name, value.parse().expect("a value"));
        }
        map
    }

    #[test]
    fn only_names_of_this_machine_are_answered() {
        let keys = Keys::new(4000).expect("chance");
        for (host, ours) in [
            ("127.0.0.1:4000", true),
            ("localhost:4000", true),
            ("127.0.0.1", false),
            ("127.0.0.1:4001", false),
            ("evil.test:4000", false),
            ("127.0.0.1.evil.test:4000", false),
        ] {
            let asked = keys.name_is_ours(&headers(&[(HOST, host)]));
            assert_eq!(asked.is_ok(), ours, "{host}");
        }
        assert!(keys.name_is_ours(&HeaderMap::new()).is_err());
    }

    #[test]
    fn a_ticket_is_good_for_one_entrance_and_the_printed_pass_for_many() {
        let keys = Keys::new(4000).expect("chance");
        let pass = |address: String| address.split("pass=").nth(1).expect("a pass").to_owned();
        let ticket = pass(keys.ticket_address().expect("unused"));
        let cookie = keys.enter(&ticket).expect("the first time");
        assert!(cookie.contains("HttpOnly") && cookie.contains("SameSite=Strict"));
        assert!(keys.enter(&ticket).is_none());
        let printed = pass(keys.address());
        assert!(keys.enter(&printed).is_some() && keys.enter(&printed).is_some());
        assert!(keys.enter("").is_none());
        let held = cookie.split(';').next().expect("the cookie").to_owned();
        assert!(keys.may_read(&headers(&[(COOKIE, held.as_str())])).is_ok());
        assert!(
            keys.may_read(&headers(&[(COOKIE, "footring-4000=x")]))
                .is_err()
        );
    }

    #[test]
    fn a_change_needs_both_the_page_and_its_word() {
        let keys = Keys::new(4000).expect("chance");
        let word = keys.word().to_owned();
        let own = "http://127.0.0.1:4000";
        for (origin, word, may) in [
            (Some(own), Some(word.as_str()), true),
            (Some("http://localhost:4000"), Some(word.as_str()), true),
            (Some(own), Some("guess"), false),
            (Some(own), None, false),
            (None, Some(word.as_str()), false),
            (Some("null"), Some(word.as_str()), false),
            (Some("http://127.0.0.1:4001"), Some(word.as_str()), false),
            (Some("https://127.0.0.1:4000"), Some(word.as_str()), false),
        ] {
            let mut sent = HeaderMap::new();
            if let Some(origin) = origin {
                sent.insert(ORIGIN, origin.parse().expect("a value"));
            }
            if let Some(word) = word {
                sent.insert(WORD, word.parse().expect("a value"));
            }
            assert_eq!(
                keys.may_change(&Method::POST, &sent).is_ok(),
                may,
                "{origin:?}"
            );
            assert!(keys.may_change(&Method::GET, &sent).is_ok());
        }
    }
}
