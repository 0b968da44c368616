//! The pairing code: eight digits that are shown on this machine, work once and
//! for ten minutes. Digits, because every phone has a pad of large keys for
//! them, and they are the same in every language. After five wrong entries the
//! code is void and only this machine can make another: whoever guesses has
//! five chances in a hundred million for each code that its maker asks for.

use std::collections::VecDeque;
use std::net::IpAddr;
use std::time::{Duration, Instant};

use subtle::ConstantTimeEq;

use super::NoRandom;

/// Digits of a code.
const DIGITS: usize = 8;
/// How many codes there are.
const CODES: u64 = 10_u64.pow(8);
/// How long a code is valid: time to find the phone, unlock it and join the network.
pub(crate) const CODE_LIFE: Duration = Duration::from_mins(10);
/// Wrong entries after which a code is void.
pub(crate) const MOST_WRONG: u32 = 5;
/// Entries are counted over this time.
const WINDOW: Duration = Duration::from_mins(1);
/// Most entries of one device in that time: a person types slower.
const MOST_FROM_ONE: usize = 8;
/// Most entries of all devices in that time.
const MOST_FROM_ALL: usize = 20;

/// A code that is valid now.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Code {
    /// Its eight digits.
    pub(crate) digits: String,
    /// How long it is still valid.
    pub(crate) left: Duration,
    /// Wrong entries that it still bears.
    pub(crate) tries_left: u32,
}

/// Why no code is valid.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Ended {
    /// None was made yet.
    NotMade,
    /// A device was paired with it.
    Used,
    /// Its time is over.
    Expired,
    /// Too many wrong ones were entered.
    Guessed,
}

/// Why an entry does not open the door.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Refused {
    /// It is not the code; so many wrong entries are still borne.
    Wrong(u32),
    /// No code is valid.
    NoCode(Ended),
    /// Too many entries: after this time another one is taken.
    Wait(Duration),
}

/// The code of a door, and who tried it lately.
pub(super) struct Codes {
    current: Option<Kept>,
    ended: Ended,
    /// Entries of the last minute; never more than [`MOST_FROM_ALL`].
    entries: VecDeque<(Instant, IpAddr)>,
}

struct Kept {
    digits: String,
    ends: Instant,
    wrong: u32,
}

impl Default for Codes {
    fn default() -> Codes {
        Codes { current: None, ended: Ended::NotMade, entries: VecDeque::new() }
    }
}

impl Codes {
    /// Puts a new code in the place of the one before.
    pub(super) fn renew(&mut self, digits: String, now: Instant) -> Code {
        self.current = Some(Kept { digits: digits.clone(), ends: now + CODE_LIFE, wrong: 0 });
        Code { digits, left: CODE_LIFE, tries_left: MOST_WRONG }
    }

    /// The code that is valid now.
    pub(super) fn current(&mut self, now: Instant) -> Result<Code, Ended> {
        if self.current.as_ref().is_some_and(|kept| now >= kept.ends) {
            self.end(Ended::Expired);
        }
        let kept = self.current.as_ref().ok_or(self.ended)?;
        Ok(Code {
            digits: kept.digits.clone(),
            left: kept.ends - now,
            tries_left: MOST_WRONG.saturating_sub(kept.wrong),
        })
    }

    /// Takes an entry. The right one uses the code up.
    pub(super) fn enter(&mut self, digits: &str, peer: IpAddr, now: Instant) -> Result<(), Refused> {
        self.count(peer, now)?;
        self.current(now).map_err(Refused::NoCode)?;
        let Some(kept) = &mut self.current else { return Err(Refused::NoCode(self.ended)) };
        if bool::from(kept.digits.as_bytes().ct_eq(digits.as_bytes())) {
            self.end(Ended::Used);
            return Ok(());
        }
        kept.wrong += 1;
        let left = MOST_WRONG.saturating_sub(kept.wrong);
        if left == 0 {
            self.end(Ended::Guessed);
        }
        Err(Refused::Wrong(left))
    }

    fn end(&mut self, how: Ended) {
        self.current = None;
        self.ended = how;
    }

    /// Counts an entry, or says how long to wait. What is sent away is not
    /// counted, so that waiting helps.
    fn count(&mut self, peer: IpAddr, now: Instant) -> Result<(), Refused> {
        while self.entries.front().is_some_and(|(at, _)| now.duration_since(*at) >= WINDOW) {
            self.entries.pop_front();
        }
        let wait = |at: Instant| Err(Refused::Wait(WINDOW.saturating_sub(now.duration_since(at))));
        let mut own = self.entries.iter().filter(|(_, from)| *from == peer);
        if own.clone().count() >= MOST_FROM_ONE
            && let Some((at, _)) = own.next()
        {
            return wait(*at);
        }
        if self.entries.len() >= MOST_FROM_ALL
            && let Some((at, _)) = self.entries.front()
        {
            return wait(*at);
        }
        self.entries.push_back((now, peer));
        Ok(())
    }
}

/// Eight digits, each code as likely as any other.
pub(super) fn random_digits() -> Result<String, NoRandom> {
    // Numbers past the last whole multiple would make low codes likelier.
    const FAIR: u64 = u64::MAX - u64::MAX % CODES;
    loop {
        let number = getrandom::u64().map_err(|_| NoRandom)?;
        if number < FAIR {
            return Ok(format!("{:0DIGITS$}", number % CODES));
        }
    }
}

/// The digits of a code as a person types it, with spaces or dashes between;
/// `None` where it cannot be one.
pub(crate) fn digits_of(typed: &str) -> Option<String> {
    let digits: String =
        typed.chars().filter(|letter| !letter.is_whitespace() && !['-', '.'].contains(letter)).collect();
    (digits.len() == DIGITS && digits.bytes().all(|digit| digit.is_ascii_digit())).then_some(digits)
}

#[cfg(test)]
mod tests {
    use super::*;

    const PHONE: IpAddr = IpAddr::V4(std::net::Ipv4Addr::new(192, 168, 1, 30));

    fn other(last: u8) -> IpAddr {
        IpAddr::from([192, 168, 1, last])
    }

    fn with_code() -> (Codes, Instant) {
        let (mut codes, now) = (Codes::default(), Instant::now());
        codes.renew("40718852".to_owned(), now);
        (codes, now)
    }

    #[test]
    fn a_code_works_once() {
        let (mut codes, now) = with_code();
        assert_eq!(codes.enter("40718852", PHONE, now), Ok(()));
        assert_eq!(codes.enter("40718852", PHONE, now), Err(Refused::NoCode(Ended::Used)));
        assert_eq!(codes.current(now), Err(Ended::Used));
    }

    #[test]
    fn a_code_is_valid_for_ten_minutes() {
        let (mut codes, now) = with_code();
        let just_before = now + Duration::from_secs(9 * 60 + 59);
        assert_eq!(codes.current(just_before).map(|code| code.left), Ok(Duration::from_secs(1)));
        assert_eq!(codes.enter("40718852", PHONE, now + CODE_LIFE), Err(Refused::NoCode(Ended::Expired)));
        let (mut codes, now) = with_code();
        assert_eq!(codes.enter("40718852", PHONE, now + Duration::from_secs(9 * 60 + 59)), Ok(()));
    }

    #[test]
    fn the_fifth_wrong_entry_makes_a_code_void_whoever_enters_it() {
        let (mut codes, now) = with_code();
        for (tries, left) in (1..=5_u8).zip([4, 3, 2, 1, 0]) {
            assert_eq!(codes.enter("00000000", other(tries), now), Err(Refused::Wrong(left)));
        }
        assert_eq!(codes.enter("40718852", PHONE, now), Err(Refused::NoCode(Ended::Guessed)));
        codes.renew("11112222".to_owned(), now);
        assert_eq!(codes.enter("40718852", PHONE, now), Err(Refused::Wrong(4)), "the old code stays void");
        assert_eq!(codes.enter("11112222", PHONE, now), Ok(()));
    }

    #[test]
    fn entries_are_limited_for_each_device_and_for_all() {
        let (mut codes, now) = (Codes::default(), Instant::now());
        let enter =
            |codes: &mut Codes, peer, after| codes.enter("00000000", peer, now + Duration::from_secs(after));
        for _ in 0..MOST_FROM_ONE {
            assert_eq!(enter(&mut codes, PHONE, 0), Err(Refused::NoCode(Ended::NotMade)));
        }
        assert_eq!(enter(&mut codes, PHONE, 20), Err(Refused::Wait(Duration::from_secs(40))));
        for last in 0..12 {
            assert_eq!(enter(&mut codes, other(last), 30), Err(Refused::NoCode(Ended::NotMade)), "{last}");
        }
        assert_eq!(enter(&mut codes, other(99), 30), Err(Refused::Wait(Duration::from_secs(30))));
        assert_eq!(codes.entries.len(), MOST_FROM_ALL, "what is sent away is not kept");
        assert_eq!(enter(&mut codes, PHONE, 60), Err(Refused::NoCode(Ended::NotMade)), "waiting helps");
    }

    #[test]
    fn codes_are_eight_digits_and_differ() {
        let codes: std::collections::BTreeSet<String> = (0..100).map(|_| random_digits().unwrap()).collect();
        // A hundred of a hundred million: two alike once in twenty thousand runs.
        assert!(codes.len() >= 99, "{codes:?}");
        assert!(codes.iter().all(|code| digits_of(code).as_deref() == Some(code)), "{codes:?}");
    }

    #[test]
    fn a_code_is_understood_as_people_type_it() {
        let check = |typed: &str, digits: Option<&str>| assert_eq!(digits_of(typed).as_deref(), digits);
        check("40718852", Some("40718852"));
        check(" 4071 8852 ", Some("40718852"));
        check("4071-8852", Some("40718852"));
        check("4071885", None);
        check("407188522", None);
        check("4071885O", None);
        check("", None);
    }
}
