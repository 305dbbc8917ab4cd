//! The server on a socket: who can reach it, what it says of itself, how it stops.

mod asking;

use std::io::{Read, Write};
use std::net::{Ipv4Addr, SocketAddr, TcpListener, TcpStream};
use std::sync::{Arc, mpsc};
use std::time::{Duration, Instant};

use guardrow_web::{ServeError, ServeOptions, Serving, serve};

const ANY_PORT: ServeOptions = ServeOptions { port: 0, open_browser: false };

/// Starts a server on a thread of its own and waits until it listens.
fn started(server: &asking::Server) -> Serving {
    let (tell, told) = mpsc::channel();
    let station = Arc::clone(&server.station);
    std::thread::spawn(move || serve(station, ANY_PORT, |serving| tell.send(serving.clone()).expect("the test waits")));
    told.recv_timeout(Duration::from_secs(10)).expect("the server listens within ten seconds")
}

fn ask(address: SocketAddr, request: &str) -> String {
    let mut stream = TcpStream::connect(address).expect("the server listens");
    stream.set_read_timeout(Some(Duration::from_secs(10))).expect("a timeout can be set");
    stream.write_all(request.as_bytes()).expect("the request is sent");
    let mut answer = String::new();
    stream.read_to_string(&mut answer).expect("the answer is text and ends");
    answer
}

#[test]
fn it_listens_on_this_machine_only_and_answers() {
    let server = asking::server();
    let begun = Instant::now();
    let serving = started(&server);
    assert_eq!(serving.address.ip(), Ipv4Addr::LOCALHOST);
    assert_eq!(serving.url, format!("http://localhost:{}/", serving.address.port()));
    assert!(!serving.browser_opened);
    let host = format!("localhost:{}", serving.address.port());
    let page = ask(serving.address, &format!("GET / HTTP/1.1\r\nhost: {host}\r\nconnection: close\r\n\r\n"));
    println!("from start to first page: {:?}", begun.elapsed());
    assert!(page.starts_with("HTTP/1.1 200"), "{page}");
    assert!(page.contains("<!doctype html>") || page.contains("<!DOCTYPE html>"), "{page}");
    let wrong = ask(serving.address, "GET / HTTP/1.1\r\nhost: localhost:1\r\nconnection: close\r\n\r\n");
    assert!(wrong.starts_with("HTTP/1.1 403") && wrong.contains("not_admitted"), "{wrong}");
    let none = ask(serving.address, "GET / HTTP/1.0\r\n\r\n");
    assert!(none.starts_with("HTTP/1.0 403") && none.contains("not_admitted"), "{none}");
}

#[test]
fn a_taken_port_is_told_as_such() {
    let taken = TcpListener::bind((Ipv4Addr::LOCALHOST, 0)).expect("some port is free");
    let port = taken.local_addr().expect("it is bound").port();
    let server = asking::server();
    let options = ServeOptions { port, open_browser: false };
    let error = serve(Arc::clone(&server.station), options, |_| panic!("it cannot listen")).expect_err("taken");
    assert!(matches!(error, ServeError::PortTaken(told) if told == port), "{error:?}");
    assert!(error.to_string().contains(&port.to_string()) && error.help().contains("port"));
}
