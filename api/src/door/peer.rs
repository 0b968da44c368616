//! Who is at the other end of a connection, as the system says: no header is
//! believed about that.

use std::net::{IpAddr, SocketAddr};

/// Both ends of a connection.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Peer {
    /// The other end.
    pub(crate) there: IpAddr,
    /// The end of this machine; `None` where the system does not say.
    pub(crate) here: Option<IpAddr>,
}

impl Peer {
    /// Whether the other end is this very machine.
    pub(crate) fn is_own_machine(self) -> bool {
        self.there.is_loopback()
    }
}

/// An IPv4 address that came in through an IPv6 socket is an IPv4 address.
pub(super) fn plain(address: SocketAddr) -> IpAddr {
    address.ip().to_canonical()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_loopback_is_this_machine() {
        let check = |address: &str, own: bool| {
            let address: SocketAddr = address.parse().unwrap();
            assert_eq!(Peer { there: plain(address), here: None }.is_own_machine(), own, "{address}");
        };
        check("127.0.0.1:50000", true);
        check("[::1]:50000", true);
        check("[::ffff:127.0.0.1]:50000", true);
        check("192.168.1.30:50000", false);
        check("[::ffff:192.168.1.30]:50000", false);
        check("0.0.0.0:50000", false);
        check("[fe80::1]:50000", false);
    }
}
