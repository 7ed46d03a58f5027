//! The addresses of this machine on the shop's network.

use std::net::{IpAddr, Ipv4Addr};

/// Addresses by which others in the shop reach this machine, the likeliest first. Only private ones:
/// a page for the shop is nothing for the street.
pub fn shop_addresses() -> Vec<Ipv4Addr> {
    let mut found: Vec<(u8, String, Ipv4Addr)> = vec![];
    for i in if_addrs::get_if_addrs().unwrap_or_default() {
        if let IpAddr::V4(ip) = i.ip()
            && !ip.is_loopback()
            && is_near(ip)
        {
            found.push((rank(&i.name, ip), i.name, ip));
        }
    }
    found.sort();
    found.dedup_by_key(|f| f.2);
    found.into_iter().map(|f| f.2).collect()
}

/// Bridges of virtual machines come last, addresses given by nobody after them.
fn rank(name: &str, ip: Ipv4Addr) -> u8 {
    let virtual_one = ["docker", "br-", "veth", "virbr", "vmnet", "tun"].iter().any(|p| name.starts_with(p));
    u8::from(virtual_one) + 2 * u8::from(ip.is_link_local())
}

/// Whether an address lies in the shop (RFC 1918, RFC 3927, RFC 6598 and the loopback), not outside.
pub fn is_near(ip: Ipv4Addr) -> bool {
    let [a, b, ..] = ip.octets();
    ip.is_loopback() || ip.is_private() || ip.is_link_local() || (a == 100 && (64..128).contains(&b))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn near_is_what_the_documents_call_private() {
        for (ip, near) in [
            ("127.0.0.1", true),
            ("10.1.2.3", true),
            ("172.16.0.1", true),
            ("172.32.0.1", false),
            ("192.168.1.20", true),
            ("169.254.3.4", true),
            ("100.64.0.1", true),
            ("100.63.0.1", false),
            ("100.128.0.1", false),
            ("8.8.8.8", false),
            ("203.0.113.7", false),
        ] {
            assert_eq!(is_near(ip.parse().unwrap()), near, "{ip}");
        }
    }
}
