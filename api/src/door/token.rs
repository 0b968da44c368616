//! What a paired device is known by: 32 random bytes in a cookie. The notebook
//! keeps only their SHA-256, so that a copy of it opens no door; a fast hash
//! will do, for nobody can try out 256 random bits.

use axum::http::HeaderMap;
use axum::http::header::COOKIE;
use sha2::{Digest, Sha256};

use super::NoRandom;
use crate::store::hex;

/// The cookie's name.
const COOKIE_NAME: &str = "eighths";
/// How long a browser keeps the cookie, in seconds: the 400 days that browsers
/// allow at most (RFC 6265bis, 5.6.2). Every visit of the page begins them anew.
const COOKIE_LIFE_S: u32 = 400 * 24 * 60 * 60;
/// Random bytes of a token.
const TOKEN_BYTES: usize = 32;

/// A device's token, in hexadecimal digits.
pub(crate) struct Token(String);

/// What a request says who it is from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Presented {
    /// The device's number.
    pub(crate) device: i64,
    /// Its token, as it came.
    pub(crate) token: String,
}

impl Token {
    /// A new token.
    pub(crate) fn new() -> Result<Token, NoRandom> {
        let mut bytes = [0; TOKEN_BYTES];
        getrandom::fill(&mut bytes).map_err(|_| NoRandom)?;
        Ok(Token(hex(&bytes)))
    }

    /// Its digits.
    pub(crate) fn digits(&self) -> &str {
        &self.0
    }
}

/// What the notebook keeps of a token.
pub(crate) fn hash_of(token: &str) -> [u8; 32] {
    Sha256::digest(token.as_bytes()).into()
}

/// The value of `Set-Cookie` for a device. No script reads it, no other site's
/// request carries it. It is not `Secure`: on a home network there is no https.
pub(crate) fn cookie(device: i64, token: &str) -> String {
    format!("{COOKIE_NAME}={device}.{token}; Max-Age={COOKIE_LIFE_S}; Path=/; HttpOnly; SameSite=Strict")
}

/// The device that a request says it is from, if it says so in the right form.
pub(crate) fn presented(headers: &HeaderMap) -> Option<Presented> {
    let cookies = headers.get_all(COOKIE).iter().filter_map(|value| value.to_str().ok());
    let value = cookies
        .flat_map(|line| line.split(';'))
        .find_map(|pair| pair.trim().strip_prefix(COOKIE_NAME)?.strip_prefix('='))?;
    let (device, token) = value.split_once('.')?;
    let well_formed = token.len() == 2 * TOKEN_BYTES && token.bytes().all(|digit| digit.is_ascii_hexdigit());
    Some(Presented { device: device.parse().ok()?, token: well_formed.then(|| token.to_owned())? })
}

#[cfg(test)]
mod tests {
    use axum::http::HeaderValue;

    use super::*;

    #[test]
    fn tokens_have_256_bits_and_differ() {
        let (one, other) = (Token::new().unwrap(), Token::new().unwrap());
        assert_eq!(one.digits().len() * 4, 256);
        assert_ne!(one.digits(), other.digits());
    }

    /// SHA-256 of "abc" (FIPS 180-2, appendix B.1).
    #[test]
    fn what_is_kept_is_the_sha_256_of_the_token() {
        assert_eq!(hex(&hash_of("abc")), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    }

    #[test]
    fn a_cookie_comes_back_as_it_was_given() {
        let token = Token::new().unwrap();
        let cookie = cookie(7, token.digits());
        for part in ["HttpOnly", "SameSite=Strict", "Path=/", "Max-Age=34560000"] {
            assert!(cookie.split("; ").any(|one| one == part), "{part} in {cookie}");
        }
        let sent = cookie.split(';').next().unwrap();
        let read =
            |value: &str| presented(&HeaderMap::from_iter([(COOKIE, HeaderValue::from_str(value).unwrap())]));
        let known = Some(Presented { device: 7, token: token.digits().to_owned() });
        assert_eq!(read(sent), known);
        assert_eq!(read(&format!("theme=dark; {sent}; last=1")), known);
        for wrong in ["", "eighths=", "eighths=7", "eighths=7.abc", "eighths=x.abc", "other=7.1"] {
            assert_eq!(read(wrong), None, "{wrong}");
        }
        assert_eq!(read(&format!("eighths=7.{}", "g".repeat(64))), None);
        assert_eq!(presented(&HeaderMap::new()), None);
    }
}
