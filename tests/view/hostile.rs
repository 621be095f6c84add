//! What must not come in, what makes no sense, and too much of it.

use std::io::Read;
use std::io::Write;
use std::net::IpAddr;
use std::net::SocketAddr;
use std::net::TcpStream;
use std::net::UdpSocket;
use std::thread;
use std::time::Duration;
use std::time::Instant;

use crate::served::Served;
use crate::served::bench_stand;
use crate::served::demo;
use crate::served::digests;
use crate::served::registered;
use serde_json::json;

#[test]
fn hostile_bytes_are_kept_out_and_it_still_answers() {
    let folder = registered("glazing-bench");
    let server = Served::start(&folder, &[]);
    let (token, host) = (server.token.clone(), server.host());
    let before = digests(folder.root());
    let status = |text: String| server.reply(text.as_bytes()).status;
    let get = |path: &str, heads: &str| {
        status(format!(
            "GET {path} HTTP/1.1\r\n{heads}Connection: close\r\n\r\n"
        ))
    };
    let good = format!("Host: {host}\r\n");
    assert_eq!(get(&format!("/{token}/"), &good), 200);
    // Wrong token: nothing told.
    let wrong = server.reply(
        format!(
            "GET /{}/ HTTP/1.1\r\n{good}Connection: close\r\n\r\n",
            "0".repeat(48)
        )
        .as_bytes(),
    );
    assert_eq!((wrong.status, wrong.body.as_str()), (404, ""));
    assert_eq!(get("/", &good), 404);
    // Host and origin.
    assert!([400, 403].contains(&get(&format!("/{token}/"), "")));
    assert_eq!(
        get(
            &format!("/{token}/"),
            &format!("Host: evil.example:{}\r\n", server.port)
        ),
        403
    );
    assert_eq!(get(&format!("/{token}/"), "Host: 127.0.0.1\r\n"), 403);
    assert_eq!(get(&format!("/{token}/"), &format!("{good}{good}")), 403);
    assert_eq!(
        get(
            &format!("/{token}/"),
            &format!("{good}Origin: http://evil.example\r\n")
        ),
        403
    );
    assert_eq!(
        get(
            &format!("/{token}/"),
            &format!("{good}Sec-Fetch-Site: cross-site\r\n")
        ),
        403
    );
    let body = json!({"geometry": "registered", "stand": bench_stand()}).to_string();
    let post = |heads: &str| {
        status(format!(
            "POST /{token}/api/stand HTTP/1.1\r\n{good}{heads}Content-Length: {}\r\nConnection: close\r\n\r\n{body}",
            body.len()
        ))
    };
    let origin = format!("Origin: http://{host}\r\n");
    let kind = "Content-Type: application/json\r\n";
    assert_eq!(post(&format!("{origin}{kind}")), 200);
    assert_eq!(post(kind), 403);
    assert_eq!(post(&format!("Origin: null\r\n{kind}")), 403);
    assert_eq!(post(&format!("Origin: http://evil.example\r\n{kind}")), 403);
    assert_eq!(post(&origin), 415);
    assert_eq!(post(&format!("{origin}Content-Type: text/plain\r\n")), 415);
    assert_eq!(get(&format!("/{token}/api/stand"), &good), 405);
    assert_eq!(
        status(format!(
            "DELETE /{token}/ HTTP/1.1\r\n{good}Connection: close\r\n\r\n"
        )),
        405
    );
    assert_eq!(server.post_text("nothing", "{}").status, 404);
    assert_eq!(get(&format!("/{token}/api/nothing"), &good), 404);
    // Paths that would lead out of a folder, were there one.
    for path in [
        "../../etc/passwd",
        "..%2f..%2fetc/passwd",
        "%2e%2e/%2e%2e/etc/passwd",
        "..\\..\\etc\\passwd",
        "cell.toml",
        "page/index.html",
        "/etc/passwd",
        "index.html%00",
        "./",
        "api/../cell.toml",
        "src/main.rs",
    ] {
        let status = get(&format!("/{token}/{path}"), &good);
        assert!([400, 404, 405].contains(&status), "{path}: {status}");
    }
    for path in [
        format!("/{token}/../{token}/"),
        format!("//{token}/"),
        format!("/./{token}/"),
    ] {
        assert!([400, 404].contains(&get(&path, &good)), "{path}");
    }
    // Heads and bodies that are too large, told beforehand or not.
    let large = get(
        &format!("/{token}/"),
        &format!("{good}X-Large: {}\r\n", "x".repeat(40_000)),
    );
    assert!([431, 400, 0].contains(&large), "{large}");
    let many = get(
        &format!("/{token}/"),
        &format!("{good}{}", "X-Many: y\r\n".repeat(500)),
    );
    assert!([431, 400, 0].contains(&many), "{many}");
    let long = get(&format!("/{token}/{}", "a".repeat(40_000)), &good);
    assert!([414, 431, 400, 0].contains(&long), "{long}");
    let told = server
        .post_text("stand", &format!("{{\"x\":\"{}\"}}", "y".repeat(100_000)))
        .status;
    assert!([413, 0].contains(&told), "{told}");
    let mut chunked = format!(
        "POST /{token}/api/stand HTTP/1.1\r\n{good}{origin}{kind}Transfer-Encoding: chunked\r\nConnection: close\r\n\r\n"
    );
    for _ in 0..100 {
        chunked.push_str(&format!("400\r\n{}\r\n", " ".repeat(0x400)));
    }
    chunked.push_str("0\r\n\r\n");
    let chunked = status(chunked);
    assert!([413, 0].contains(&chunked), "{chunked}");
    // Bytes that are no request.
    for garbage in [
        &b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03"[..],
        b"\0\0\0\0\r\n\r\n",
        b"GET\r\n\r\n",
        b"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n",
        b"GET / HTTP/9.9\r\n\r\n",
        b"POST / HTTP/1.1\r\nContent-Length: -1\r\n\r\n",
        b"POST / HTTP/1.1\r\nContent-Length: 5\r\nContent-Length: 6\r\nTransfer-Encoding: chunked\r\n\r\n",
    ] {
        let back = server.raw(garbage);
        assert!(!back.contains(" 200 "), "{back}");
    }
    let piped = format!(
        "GET /{token}/ HTTP/1.1\r\n{good}\r\nGARBAGE \x01\x02\r\n\r\nGET /{token}/ HTTP/1.1\r\n{good}\r\n"
    );
    let back = server.raw(piped.as_bytes());
    assert_eq!(back.matches("HTTP/1.1 200").count(), 1, "{back}");
    server.still_answers();
    assert_eq!(digests(folder.root()), before);
}

#[test]
fn questions_that_make_no_sense_are_refused_in_a_sentence() {
    let folder = registered("glazing-bench");
    let server = Served::start(&folder, &[]);
    let stand = bench_stand().to_string();
    let refused = |name: &str, body: &str| {
        let reply = server.post_text(name, body);
        assert!(
            [400, 404].contains(&reply.status),
            "{name} {body}: {}",
            reply.status
        );
        assert!(reply.json()["error"].as_str().unwrap().len() > 10, "{body}");
    };
    for body in [
        "",
        "{",
        "[]",
        "null",
        "{}",
        "{\"geometry\":\"registered\"}",
        "\u{feff}{}",
        "{\"geometry\":\"other\",\"stand\":{\"track\":0,\"table\":0,\"joints\":[0,0,0,0,0]}}",
        "{\"geometry\":\"drawn\",\"stand\":{\"track\":0,\"table\":0,\"joints\":[0,0,0,0]}}",
        "{\"geometry\":\"drawn\",\"stand\":{\"track\":0,\"table\":0,\"joints\":[0,0,0,0,0,0]}}",
        "{\"geometry\":\"drawn\",\"stand\":{\"track\":null,\"table\":0,\"joints\":[0,0,0,0,0]}}",
        "{\"geometry\":\"drawn\",\"stand\":{\"track\":0,\"table\":0,\"joints\":[0,0,0,0,NaN]}}",
        "{\"geometry\":\"drawn\",\"stand\":{\"track\":0,\"table\":0,\"joints\":[0,0,0,0,1e999]}}",
        "{\"geometry\":\"drawn\",\"stand\":{\"track\":0,\"table\":0,\"joints\":[0,0,0,0,-1e300]}}",
        "{\"geometry\":\"drawn\",\"stand\":{\"track\":0,\"table\":0,\"joints\":[0,0,0,0,\"1\"]}}",
        "{\"geometry\":\"drawn\",\"stand\":{\"track\":0,\"table\":0,\"joints\":[0,0,0,0,0],\"more\":1}}",
        "{\"geometry\":\"drawn\",\"geometry\":\"drawn\",\"stand\":{\"track\":0,\"table\":0,\"joints\":[0,0,0,0,0]}}",
        "{\"geometry\":\"drawn\",\"stand\":{\"track\":0,\"table\":0,\"joints\":[0,0,0,0,0]}} trailing",
        "{\"geometry\":\"drawn\",\"stand\":{\"table\":0,\"joints\":[0,0,0,0,0]}}",
        // The right values without their names.
        "[\"drawn\",{\"track\":0,\"table\":0,\"joints\":[0,0,0,0,0]}]",
        "{\"geometry\":\"drawn\",\"stand\":[0,0,[0,0,0,0,0]]}",
    ] {
        refused("stand", body);
    }
    refused("stand", &"[".repeat(60_000));
    refused(
        "stand",
        &format!("{{\"geometry\":{}", "{\"a\":".repeat(5_000)),
    );
    let many = vec!["0"; 20_000].join(",");
    refused(
        "stand",
        &format!(
            "{{\"geometry\":\"drawn\",\"stand\":{{\"track\":0,\"table\":0,\"joints\":[{many}]}}}}"
        ),
    );
    for (handle, view, to) in [
        ("j0", "plan", "\"to\":[0,0]"),
        ("j6", "plan", "\"to\":[0,0]"),
        ("j99999999999999999999", "plan", "\"to\":[0,0]"),
        ("", "plan", "\"to\":[0,0]"),
        ("elbow", "plan", "\"to\":[0,0]"),
        ("tip", "front", "\"to\":[0,0]"),
        ("tip", "plan", "\"to\":[0]"),
        ("tip", "plan", "\"to\":[0,0,0]"),
        ("tip", "plan", "\"to\":[1e30,0]"),
        ("tip", "plan", "\"to\":[0,0],\"by_mm\":[0,0]"),
        ("tip", "plan", "\"by_mm\":[1e9,0]"),
        ("j1", "plan", "\"by_mm\":[1,0]"),
    ] {
        refused(
            "drag",
            &format!(
                "{{\"geometry\":\"drawn\",\"stand\":{stand},\"handle\":\"{handle}\",\"view\":\"{view}\",{to}}}"
            ),
        );
    }
    refused(
        "place",
        &format!(
            "{{\"geometry\":\"drawn\",\"stand\":{stand},\"frame\":\"plate\",\"at_mm\":[1e8,0,0]}}"
        ),
    );
    refused(
        "place",
        &format!(
            "{{\"geometry\":\"drawn\",\"stand\":{stand},\"frame\":\"plate\",\"at_mm\":[0,0,0],\"elevation_deg\":91}}"
        ),
    );
    refused(
        "point",
        &format!(
            "{{\"geometry\":\"drawn\",\"stand\":{stand},\"name\":\"{}\"}}",
            "n".repeat(5_000)
        ),
    );
    // A number of three hundred figures is not sent back in full.
    let body = "{\"geometry\":\"drawn\",\"stand\":{\"track\":1e300,\"table\":0,\"joints\":[0,0,0,0,0]}}";
    let why = server.post_text("stand", body).is(400).json();
    assert!(why["error"].as_str().unwrap().len() < 120, "{why}");
    // The largest numbers that are let in do no harm.
    let far = json!({"geometry": "drawn", "stand": {"track": 1e7, "table": -1e7, "joints": [1e7, 1e7, -1e7, 1e7, 1e7]}});
    let state = server.state("stand", far);
    assert!(!state["looks"].as_array().unwrap().is_empty());
    for handle in ["tip", "track", "table", "j1", "j3"] {
        server.state("drag", json!({
            "geometry": "drawn", "handle": handle, "view": "elevation", "to": [1e6, -1e6], "stand": state["stand"]
        }));
    }
    server.still_answers();
}

#[test]
fn many_at_once_and_too_many_a_second() {
    let folder = registered("glazing-bench");
    let server = Served::start(&folder, &[]);
    // Connections that say nothing, more than there are places.
    let idle: Vec<TcpStream> = (0..200)
        .filter_map(|_| TcpStream::connect(("127.0.0.1", server.port)).ok())
        .collect();
    assert_eq!(idle.len(), 200);
    // They give way to one that knows the token, at once.
    let begun = Instant::now();
    server.get("").is(200);
    assert!(begun.elapsed() < Duration::from_secs(8));
    drop(idle);
    server.still_answers();
    // One that sends its head a byte at a time is not waited for for ever.
    let mut slow = TcpStream::connect(("127.0.0.1", server.port)).unwrap();
    slow.set_read_timeout(Some(Duration::from_millis(10)))
        .unwrap();
    let begun = Instant::now();
    let mut closed = false;
    while begun.elapsed() < Duration::from_secs(30) && !closed {
        let mut buffer = [0; 100];
        closed = slow.write_all(b"G").is_err() || matches!(slow.read(&mut buffer), Ok(0));
        thread::sleep(Duration::from_millis(250));
    }
    let after = begun.elapsed();
    assert!(
        closed && after > Duration::from_secs(1),
        "{closed} after {after:?}"
    );
    // Over one connection, as fast as it goes: some are asked to wait, and told how long.
    let one = format!(
        "GET /{}/ HTTP/1.1\r\nHost: {}\r\n\r\n",
        server.token,
        server.host()
    );
    let all = format!(
        "{}{}",
        one.repeat(1500),
        one.replace("\r\n\r\n", "\r\nConnection: close\r\n\r\n")
    );
    let port = server.port;
    let sent = Instant::now();
    let mut stream = TcpStream::connect(("127.0.0.1", port)).unwrap();
    let mut reader = stream.try_clone().unwrap();
    let back = thread::spawn(move || {
        let mut text = String::new();
        let _ = reader.read_to_string(&mut text);
        text
    });
    let _ = stream.write_all(all.as_bytes());
    let back = back.join().unwrap();
    let took = sent.elapsed().as_secs_f64();
    let (fine, busy) = (
        back.matches("HTTP/1.1 200").count(),
        back.matches("HTTP/1.1 429").count(),
    );
    assert!(fine >= 200 && fine + busy == 1501, "{fine} {busy}");
    // 200 at once and 400 a second; a slow machine may not get to more by itself.
    assert!(
        fine as f64 <= 201.0 + 400.0 * took,
        "{fine} in {took} seconds"
    );
    assert_eq!(back.matches("retry-after: 1").count(), busy);
    server.still_answers();
}

/// All places taken by who knows the token: one more is told so, and not broken off.
#[test]
fn a_connection_too_many_hears_that_it_is() {
    let folder = registered("glazing-bench");
    let server = Served::start(&folder, &[]);
    let ask = format!(
        "GET /{}/page.js HTTP/1.1\r\nHost: {}\r\n\r\n",
        server.token,
        server.host()
    );
    let taken = (0..32).map(|_| {
        let mut stream = TcpStream::connect(("127.0.0.1", server.port)).unwrap();
        stream.write_all(ask.as_bytes()).unwrap();
        let mut some = [0; 12];
        stream.read_exact(&mut some).unwrap();
        assert_eq!(&some, b"HTTP/1.1 200");
        stream
    });
    let mut taken: Vec<TcpStream> = taken.collect();
    for _ in 0..10 {
        let reply = server.get("page.js").is(503);
        assert!(reply.head.to_ascii_lowercase().contains("retry-after: 1"), "{}", reply.head);
    }
    taken.pop();
    server.still_answers();
}

/// Pages of others ask as fast as they can and get nothing; the page itself is answered meanwhile.
#[test]
fn requests_without_the_token_take_nothing_from_the_page() {
    let folder = demo("glazing-bench");
    let server = Served::start(&folder, &["--as-drawn"]);
    let host = server.host();
    let one = format!("GET /wrong/ HTTP/1.1\r\nHost: {host}\r\n\r\n");
    let begun = Instant::now();
    let (mut told, mut busy) = (0, 0);
    for _ in 0..600 {
        // Its connection is closed, though it did not ask for that.
        let reply = server.reply(one.as_bytes());
        assert_eq!(reply.body, "");
        match reply.status {
            404 => told += 1,
            429 => busy += 1,
            other => panic!("{other}"),
        }
    }
    let took = begun.elapsed().as_secs_f64();
    assert_eq!(told + busy, 600);
    assert!(
        told as f64 <= 101.0 + 50.0 * took,
        "{told} in {took} seconds"
    );
    // At once, without waiting.
    for _ in 0..50 {
        server.get("").is(200);
    }
}

#[test]
fn nothing_listens_on_other_addresses() {
    let folder = demo("glazing-bench");
    let server = Served::start(&folder, &["--as-drawn"]);
    server.still_answers();
    // No packet is sent: this only asks which address would be used.
    let own = UdpSocket::bind("0.0.0.0:0").and_then(|socket| {
        socket.connect("192.0.2.1:9")?;
        socket.local_addr()
    });
    let mut others: Vec<IpAddr> = vec!["127.0.0.2".parse().unwrap(), "::1".parse().unwrap()];
    others.extend(own.ok().map(|a| a.ip()).filter(|ip| !ip.is_loopback()));
    for ip in others {
        let to = SocketAddr::new(ip, server.port);
        let open = TcpStream::connect_timeout(&to, Duration::from_secs(2));
        assert!(open.is_err(), "{ip} answers");
    }
}
