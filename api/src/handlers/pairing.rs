//! Phones and other devices that come in from the network: the code that
//! pairs them, and which are paired.

use axum::extract::{ConnectInfo, Path, State};
use axum::http::header::{CACHE_CONTROL, SET_COOKIE, USER_AGENT};
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Response};
use axum::{Extension, Json};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::app::App;
use crate::body::{JsonBody, field};
use crate::door::{
    self, Code, Door, Ended, MOST_WRONG, NoRandom, OwnMachine, Peer, Qr, Refused, Token, digits_of,
    pairing_url,
};
use crate::error::ApiError;
use crate::store::{Device, Store, StoreError};

/// How the door stands.
#[derive(Serialize, JsonSchema)]
#[schemars(title = "Pairing")]
pub(crate) struct PairingJson {
    /// Whether other machines can reach the service at all.
    network: bool,
    /// The code that is valid now.
    code: Option<CodeJson>,
    /// Why no code is valid: `not-made`, `used`, `expired` or `guessed`.
    ended: Option<&'static str>,
    /// Where a phone finds the service, the likeliest address first.
    addresses: Vec<AddressJson>,
    /// The paired devices, the latest first.
    devices: Vec<DeviceJson>,
}

/// The code that is valid now.
#[derive(Serialize, JsonSchema)]
#[schemars(title = "PairingCode")]
pub(crate) struct CodeJson {
    /// Its digits, in two groups.
    digits: String,
    /// How long it is still valid.
    seconds_left: u64,
    /// Wrong entries that it still bears.
    tries_left: u32,
}

/// An address of the service on the network.
#[derive(Serialize, JsonSchema)]
#[schemars(title = "PairingAddress")]
pub(crate) struct AddressJson {
    /// The address to type.
    url: String,
    /// The address with the code, as a QR code; none while no code is valid.
    qr: Option<Qr>,
}

/// A paired device.
#[derive(Serialize, JsonSchema)]
#[schemars(title = "Device")]
pub(crate) struct DeviceJson {
    /// Its number.
    id: i64,
    /// What its owner calls it.
    name: String,
    /// When it was paired: UTC, RFC 3339.
    paired_at: String,
    /// When it was here last, to the minute: UTC, RFC 3339.
    seen_at: String,
}

impl From<Device> for DeviceJson {
    fn from(device: Device) -> DeviceJson {
        let Device { id, name, paired_at, seen_at } = device;
        DeviceJson { id, name, paired_at, seen_at }
    }
}

impl PairingJson {
    fn of(door: &Door, devices: Vec<Device>) -> PairingJson {
        let code = door.code();
        let addresses = door.addresses().into_iter().map(|address| AddressJson {
            url: format!("http://{address}/pair"),
            qr: code.as_ref().ok().and_then(|code| Qr::of(&pairing_url(address, &code.digits))),
        });
        PairingJson {
            network: door.is_on_network(),
            ended: code.as_ref().err().map(|ended| word(*ended)),
            addresses: addresses.collect(),
            code: code.ok().map(CodeJson::from),
            devices: devices.into_iter().map(DeviceJson::from).collect(),
        }
    }
}

impl From<Code> for CodeJson {
    fn from(Code { digits, left, tries_left }: Code) -> CodeJson {
        CodeJson { digits: grouped(&digits), seconds_left: left.as_secs(), tries_left }
    }
}

fn word(ended: Ended) -> &'static str {
    match ended {
        Ended::NotMade => "not-made",
        Ended::Used => "used",
        Ended::Expired => "expired",
        Ended::Guessed => "guessed",
    }
}

/// Digits as a person reads them out: in two groups.
pub(crate) fn grouped(digits: &str) -> String {
    match digits.split_at_checked(digits.len() / 2) {
        Some((one, other)) => format!("{one} {other}"),
        None => digits.to_owned(),
    }
}

async fn standing(app: &App) -> Result<Response, ApiError> {
    let devices = app.store(Store::devices).await?;
    // The code is nothing that should lie about.
    Ok(([(CACHE_CONTROL, "no-store")], Json(PairingJson::of(&app.door, devices))).into_response())
}

/// `GET /api/pairing`
pub(crate) async fn show(_: OwnMachine, State(app): State<App>) -> Result<Response, ApiError> {
    standing(&app).await
}

/// `POST /api/pairing/code`
pub(crate) async fn renew(_: OwnMachine, State(app): State<App>) -> Result<Response, ApiError> {
    if !app.door.is_on_network() {
        return Err(ApiError::NotOnNetwork);
    }
    app.door.new_code()?;
    standing(&app).await
}

/// A device that wants to be paired.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(title = "Entry")]
pub(crate) struct Entry {
    /// The code, with or without a space between its groups.
    code: String,
    /// What the device is to be called; what kind of device it is if this is left out.
    #[serde(default)]
    name: String,
}

/// Letters of a device's name that are kept.
const LONGEST_NAME: usize = 40;

/// `POST /api/pairing`
pub(crate) async fn enter(
    State(app): State<App>,
    Extension(ConnectInfo(peer)): Extension<ConnectInfo<Peer>>,
    headers: HeaderMap,
    JsonBody(entry): JsonBody<Entry>,
) -> Result<Response, ApiError> {
    let Some(digits) = digits_of(&entry.code) else {
        return Err(field("code", "a pairing code has 8 digits: look at the computer's page again"));
    };
    app.door.enter(&digits, peer.there)?;
    let token = Token::new()?;
    let kept = token.digits().to_owned();
    let (name, presented) = (name_of(&entry.name, &headers), door::presented(&headers));
    let (device, earlier) = app
        .store(move |store| {
            let earlier = store.proven_device(presented.as_ref())?;
            Ok((store.pair_device(&name, &kept, earlier)?, earlier))
        })
        .await?;
    if let Some(earlier) = earlier {
        app.door.end(earlier);
    }
    let cookie =
        [(SET_COOKIE, door::cookie(device.id, token.digits())), (CACHE_CONTROL, "no-store".to_owned())];
    Ok((StatusCode::CREATED, cookie, Json(DeviceJson::from(device))).into_response())
}

/// Which device.
#[derive(Deserialize, JsonSchema)]
pub(crate) struct DevicePath {
    /// Its number.
    #[schemars(with = "i64")]
    id: String,
}

/// `DELETE /api/pairing/devices/{id}`
pub(crate) async fn forget(
    _: OwnMachine,
    State(app): State<App>,
    Path(DevicePath { id }): Path<DevicePath>,
) -> Result<StatusCode, ApiError> {
    let id: i64 = id.parse().map_err(|_| StoreError::NoDevice(id.chars().take(30).collect()))?;
    app.store(move |store| store.forget_device(id)).await?;
    app.door.end(id);
    Ok(StatusCode::NO_CONTENT)
}

impl From<Refused> for ApiError {
    fn from(refused: Refused) -> ApiError {
        match refused {
            Refused::Wrong(left) => ApiError::WrongCode { left },
            Refused::NoCode(ended) => ApiError::NoCode(ended),
            Refused::Wait(time) => ApiError::TooManyEntries(time.as_secs().max(1)),
        }
    }
}

impl From<NoRandom> for ApiError {
    fn from(_: NoRandom) -> ApiError {
        ApiError::Bug
    }
}

/// What a wrong entry is told.
pub(crate) fn wrong_code(left: u32) -> String {
    match left {
        0 => format!(
            "that is not the code, and {MOST_WRONG} wrong ones make it void: have a new one made on the computer's page"
        ),
        1 => "that is not the code: look again, one more try is left".to_owned(),
        left => format!("that is not the code: look again, {left} tries are left"),
    }
}

/// Why there is no code, and what to do.
pub(crate) fn no_code(ended: Ended) -> &'static str {
    match ended {
        Ended::NotMade => "no code was made yet: have one made on the computer's page, under “Use a phone”",
        Ended::Used => "that code was used already: have a new one made on the computer's page",
        Ended::Expired => "the code was valid for ten minutes: have a new one made on the computer's page",
        Ended::Guessed => {
            "the code is void after too many wrong ones: have a new one made on the computer's page"
        }
    }
}

/// What a device is called: as its owner says, else by its kind.
fn name_of(given: &str, headers: &HeaderMap) -> String {
    let clean: String = given.chars().map(|letter| if letter.is_control() { ' ' } else { letter }).collect();
    let words: Vec<&str> = clean.split_whitespace().collect();
    let name: String = words.join(" ").chars().take(LONGEST_NAME).collect();
    if !name.is_empty() {
        return name;
    }
    let agent = headers.get(USER_AGENT).and_then(|agent| agent.to_str().ok()).unwrap_or_default();
    kind_of(agent).to_owned()
}

/// What kind of device a browser says it runs on. Coarse, and only for a name.
fn kind_of(agent: &str) -> &'static str {
    let kinds = [
        ("iPhone", "iPhone"),
        ("iPad", "iPad"),
        ("Android", if agent.contains("Mobile") { "Android phone" } else { "Android tablet" }),
        ("Windows", "Windows computer"),
        ("Macintosh", "Mac"),
        ("CrOS", "Chromebook"),
        ("Linux", "Linux computer"),
    ];
    kinds.iter().find(|(word, _)| agent.contains(word)).map_or("a device", |(_, kind)| kind)
}

#[cfg(test)]
mod tests {
    use axum::http::HeaderValue;

    use super::*;

    #[test]
    fn a_device_has_the_name_it_was_given_or_that_of_its_kind() {
        let check = |given: &str, agent: &'static str, name: &str| {
            let headers = HeaderMap::from_iter([(USER_AGENT, HeaderValue::from_static(agent))]);
            assert_eq!(name_of(given, &headers), name, "{given:?}, {agent}");
        };
        let android = "Mozilla/5.0 (Linux; Android 15; Handset) AppleWebKit/537.36 Mobile Safari/537.36";
        check("Ruth’s phone", android, "Ruth’s phone");
        check("  Ruth’s \n\t phone\u{0} ", android, "Ruth’s phone");
        check("", android, "Android phone");
        check(" ", "Mozilla/5.0 (Linux; Android 15; Slate) Safari/537.36", "Android tablet");
        check("", "Mozilla/5.0 (iPhone; CPU iPhone OS 18_0 like Mac OS X)", "iPhone");
        check("", "Mozilla/5.0 (X11; Linux x86_64)", "Linux computer");
        check("", "curl/8", "a device");
        check(&"long ".repeat(30), android, "long long long long long long long long ");
    }

    #[test]
    fn digits_are_shown_in_two_groups() {
        assert_eq!(grouped("40718852"), "4071 8852");
    }
}
