//! What this machine is called: the addresses at which others reach it, and the
//! names that a request may use for it. A name of another kind is refused even
//! when it leads here: whoever owns a name can point it at this machine, and a
//! browser would then take the notebook for a part of their site.

use std::net::{IpAddr, Ipv4Addr, Ipv6Addr, UdpSocket};

/// Beginnings of names of networks that live within a machine.
const WITHIN: [&str; 12] =
    ["docker", "br-", "veth", "virbr", "vmnet", "vboxnet", "utun", "tun", "tap", "wg", "lxc", "podman"];

/// The addresses at which others reach a service that listens at `at`, the
/// likeliest first.
pub(super) fn reachable(at: IpAddr) -> Vec<IpAddr> {
    if !at.is_unspecified() {
        return vec![at];
    }
    let usual = usual_address();
    // A machine that does not list its interfaces still knows its usual address.
    let listed = if_addrs::get_if_addrs().unwrap_or_default();
    let mut found: Vec<(u8, IpAddr)> = listed
        .iter()
        .map(|interface| (interface.name.as_str(), interface.ip()))
        .filter(|(_, address)| at.is_ipv6() || address.is_ipv4())
        .filter(|(_, address)| !address.is_loopback() && !is_link_local(*address))
        .map(|(name, address)| (rank(name, address, usual), address))
        .collect();
    found.extend(usual.map(|address| (0, address)));
    found.sort_unstable();
    let mut addresses: Vec<IpAddr> = Vec::new();
    for (_, address) in found {
        if !addresses.contains(&address) {
            addresses.push(address);
        }
    }
    addresses
}

/// How likely a phone reaches an address, the likeliest with the lowest number.
fn rank(name: &str, address: IpAddr, usual: Option<IpAddr>) -> u8 {
    if Some(address) == usual {
        0
    } else if WITHIN.iter().any(|start| name.starts_with(start)) {
        3
    } else if address.is_ipv6() {
        2
    } else {
        1
    }
}

/// An address that only works on one cable, and in no browser without its zone.
fn is_link_local(address: IpAddr) -> bool {
    match address {
        IpAddr::V4(address) => address.is_link_local(),
        IpAddr::V6(address) => address.is_unicast_link_local(),
    }
}

/// The address with which this machine would speak to others. Nothing is sent:
/// the system only looks up the way.
fn usual_address() -> Option<IpAddr> {
    let socket = UdpSocket::bind((Ipv4Addr::UNSPECIFIED, 0)).ok()?;
    // An address for documentation (RFC 5737), which is nobody's.
    socket.connect((Ipv4Addr::new(203, 0, 113, 1), 9)).ok()?;
    let address = socket.local_addr().ok()?.ip();
    (!address.is_loopback() && !address.is_unspecified() && !is_link_local(address)).then_some(address)
}

/// Where a browser on this machine finds a service that listens at `at`.
pub(super) fn loopback_for(at: IpAddr) -> IpAddr {
    if at.is_loopback() {
        at
    } else if at.is_ipv4() {
        Ipv4Addr::LOCALHOST.into()
    } else {
        Ipv6Addr::LOCALHOST.into()
    }
}

/// The names this machine gives itself, also with the ending that home networks use.
pub(super) fn own_names() -> Vec<String> {
    let name = gethostname::gethostname().to_string_lossy().to_ascii_lowercase();
    let first = name.split('.').next().unwrap_or_default();
    if first.is_empty() { Vec::new() } else { vec![first.to_owned(), format!("{first}.local")] }
}

/// Whether a request that arrived at the address `here` may call the service so.
pub(super) fn is_own(name: &str, here: Option<IpAddr>, names: &[String]) -> bool {
    let bare = name.strip_prefix('[').and_then(|name| name.strip_suffix(']')).unwrap_or(name);
    match bare.parse::<IpAddr>() {
        Ok(address) => address.is_loopback() || here == Some(address.to_canonical()),
        Err(_) => name == "localhost" || names.iter().any(|own| own == name),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_service_answers_to_its_own_addresses_and_names_only() {
        let names = ["table".to_owned(), "table.local".to_owned()];
        let here: Option<IpAddr> = "192.168.1.20".parse().ok();
        let check = |name: &str, own: bool| assert_eq!(is_own(name, here, &names), own, "{name}");
        check("127.0.0.1", true);
        check("127.8.0.1", true);
        check("localhost", true);
        check("[::1]", true);
        check("192.168.1.20", true);
        check("table", true);
        check("table.local", true);
        check("192.168.1.21", false);
        check("8.8.8.8", false);
        check("[fe80::1]", false);
        check("0.0.0.0", false);
        // A name that leads to this machine, but is somebody else's.
        check("cards.example", false);
        check("127.0.0.1.cards.example", false);
        check("localhost.cards.example", false);
        check("kitchen", false);
        check("kitchen.local", false);
        check("table.local.", false);
        check("", false);
    }

    #[test]
    fn an_address_of_the_usual_network_comes_first() {
        let usual: Option<IpAddr> = "192.168.1.20".parse().ok();
        let rank = |name: &str, address: &str| rank(name, address.parse().unwrap(), usual);
        let ranks = [
            rank("wlan0", "192.168.1.20"),
            rank("eth1", "10.0.0.4"),
            rank("wlan0", "fd00::2"),
            rank("docker0", "172.17.0.1"),
        ];
        assert!(ranks.is_sorted_by(|one, next| one < next), "{ranks:?}");
    }

    #[test]
    fn a_service_at_one_address_is_reached_at_that() {
        let address: IpAddr = "192.168.1.20".parse().unwrap();
        assert_eq!(reachable(address), [address]);
        assert!(
            reachable(Ipv4Addr::UNSPECIFIED.into()).iter().all(|one| one.is_ipv4() && !one.is_loopback())
        );
    }
}
