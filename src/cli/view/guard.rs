//! Which requests are answered at all: those that carry this run's token, made by the page itself.
//!
//! Any page that is open in the same browser can send requests here. It does not know the token; it cannot
//! read an answer; and what it sends has another `Origin` or, by a name that it lets point here, another
//! `Host`.

use hyper::HeaderMap;
use hyper::Method;
use hyper::Uri;
use hyper::header;
use hyper::header::HeaderName;

/// What is asked for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Route {
    /// A file of the page, by its name after the token.
    Part(String),
    /// A question of the interface.
    Api(String),
}

/// Questions of the interface that are asked with GET.
const GETS: [&str; 3] = ["cell", "fresh", "residuals"];
/// Those that are asked with POST.
const POSTS: [&str; 9] = [
    "drag", "map", "place", "point", "points", "save", "stand", "station", "stop",
];

/// Why a request is not answered: the status, and what is told (nothing where that is empty).
pub type Turned = (u16, &'static str);

/// Address and token of this run.
#[derive(Debug, Clone)]
pub struct Door {
    port: u16,
    token: String,
}

/// Whether two texts are the same, in a time that does not tell where they differ.
fn same(a: &[u8], b: &[u8]) -> bool {
    a.len() == b.len() && a.iter().zip(b).fold(0, |all, (a, b)| all | (a ^ b)) == 0
}

/// The only value of a header; `None` where there is none, or several.
fn only<'h>(headers: &'h HeaderMap, name: &HeaderName) -> Option<&'h [u8]> {
    let mut all = headers.get_all(name).iter();
    let first = all.next()?;
    all.next().is_none().then(|| first.as_bytes())
}

impl Door {
    /// Of a port and a token.
    pub fn new(port: u16, token: String) -> Door {
        Door { port, token }
    }

    /// The address of the page.
    pub fn address(&self) -> String {
        format!("http://127.0.0.1:{}/{}/", self.port, self.token)
    }

    /// What a request asks for, if it may be answered.
    pub fn route(&self, method: &Method, uri: &Uri, headers: &HeaderMap) -> Result<Route, Turned> {
        let hosts = ["127.0.0.1", "localhost"].map(|name| format!("{name}:{}", self.port));
        let host = only(headers, &header::HOST);
        let Some(host) = hosts.iter().find(|h| host == Some(h.as_bytes())) else {
            return Err((403, ""));
        };
        // Only proxies are asked with a whole address.
        if uri.authority().is_some() || uri.scheme().is_some() {
            return Err((400, ""));
        }
        let path = uri.path().strip_prefix('/').unwrap_or_default();
        let (token, rest) = path.split_once('/').unwrap_or((path, ""));
        if !same(token.as_bytes(), self.token.as_bytes()) || !path.contains('/') {
            return Err((404, ""));
        }
        if uri.query().is_some() {
            return Err((404, "no address here has a question mark"));
        }
        let own = format!("http://{host}");
        let post = *method == Method::POST;
        if headers.contains_key(header::ORIGIN) || post {
            let origin = only(headers, &header::ORIGIN);
            if origin != Some(own.as_bytes()) {
                return Err((403, "the header Origin is not that of this page"));
            }
        }
        let site = HeaderName::from_static("sec-fetch-site");
        if headers.contains_key(&site) {
            let mode = only(headers, &HeaderName::from_static("sec-fetch-mode"));
            let fine = match only(headers, &site) {
                Some(b"same-origin") => true,
                // Typed in, or opened from a note.
                Some(b"none") => !post,
                // A window that goes to the page itself, from the file that opens it: who wrote that file
                // knows the token, and cannot read what comes.
                Some(b"cross-site") => !post && rest.is_empty() && mode == Some(b"navigate"),
                _ => false,
            };
            if !fine {
                return Err((403, "the request comes from another page"));
            }
        }
        let api = rest.strip_prefix("api/");
        match api {
            Some(name) => {
                let get = GETS.contains(&name);
                if !get && !POSTS.contains(&name) {
                    return Err((404, "there is no such address here"));
                }
                if (get && *method != Method::GET) || (!get && !post) {
                    return Err((405, "this address is asked with another method"));
                }
                if post && !is_json(headers) {
                    return Err((415, "expected Content-Type: application/json"));
                }
                Ok(Route::Api(name.to_owned()))
            }
            None if *method == Method::GET => Ok(Route::Part(rest.to_owned())),
            None => Err((405, "this address is asked with GET")),
        }
    }
}

fn is_json(headers: &HeaderMap) -> bool {
    let Some(text) = only(headers, &header::CONTENT_TYPE) else {
        return false;
    };
    let text = String::from_utf8_lossy(text).to_ascii_lowercase();
    let essence = text.split(';').next().unwrap_or_default();
    essence.trim() == "application/json"
}

#[cfg(test)]
mod tests {
    use super::*;
    use hyper::header::HeaderValue;

    fn asked(
        method: Method,
        path: &str,
        headers: &[(&'static str, &str)],
    ) -> Result<Route, Turned> {
        let door = Door::new(4711, "abc".to_owned());
        let mut map = HeaderMap::new();
        for (name, value) in headers {
            map.append(*name, HeaderValue::from_str(value).unwrap());
        }
        door.route(&method, &path.parse::<Uri>().unwrap(), &map)
    }

    const HOST: (&str, &str) = ("host", "127.0.0.1:4711");
    const ORIGIN: (&str, &str) = ("origin", "http://127.0.0.1:4711");
    const JSON: (&str, &str) = ("content-type", "application/json; charset=utf-8");

    #[test]
    fn the_page_and_its_questions_come_in() {
        let part = |p: &str| Ok(Route::Part(p.to_owned()));
        let api = |p: &str| Ok(Route::Api(p.to_owned()));
        assert_eq!(asked(Method::GET, "/abc/", &[HOST]), part(""));
        assert_eq!(
            asked(Method::GET, "/abc/page.css", &[HOST, ORIGIN]),
            part("page.css")
        );
        assert_eq!(
            asked(
                Method::GET,
                "/abc/api/cell",
                &[HOST, ("sec-fetch-site", "same-origin")]
            ),
            api("cell")
        );
        assert_eq!(
            asked(Method::POST, "/abc/api/stand", &[HOST, ORIGIN, JSON]),
            api("stand")
        );
        let local = [
            ("host", "localhost:4711"),
            ("origin", "http://localhost:4711"),
            JSON,
        ];
        assert_eq!(asked(Method::POST, "/abc/api/drag", &local), api("drag"));
    }

    #[test]
    fn all_others_stay_out() {
        let status = |method, path, headers: &[(&'static str, &str)]| {
            asked(method, path, headers).unwrap_err().0
        };
        assert_eq!(status(Method::GET, "/abc/", &[]), 403);
        assert_eq!(
            status(Method::GET, "/abc/", &[("host", "evil.example:4711")]),
            403
        );
        assert_eq!(status(Method::GET, "/abc/", &[("host", "127.0.0.1")]), 403);
        assert_eq!(status(Method::GET, "/abc/", &[HOST, HOST]), 403);
        for path in [
            "/", "/abc", "/abd/", "/ab/", "/abcd/", "/abc%2f", "//abc/", "/ABC/",
        ] {
            assert_eq!(asked(Method::GET, path, &[HOST]), Err((404, "")), "{path}");
        }
        assert_eq!(status(Method::GET, "/abc/?x", &[HOST]), 404);
        assert_eq!(
            status(Method::GET, "http://127.0.0.1:4711/abc/", &[HOST]),
            400
        );
        assert_eq!(status(Method::POST, "/abc/api/stand", &[HOST, JSON]), 403);
        let other = ("origin", "http://localhost:4711");
        assert_eq!(
            status(Method::POST, "/abc/api/stand", &[HOST, other, JSON]),
            403
        );
        assert_eq!(
            status(Method::GET, "/abc/", &[HOST, ("origin", "null")]),
            403
        );
        assert_eq!(
            status(
                Method::GET,
                "/abc/",
                &[HOST, ("sec-fetch-site", "cross-site")]
            ),
            403
        );
        let navigates = [
            HOST,
            ("sec-fetch-site", "cross-site"),
            ("sec-fetch-mode", "navigate"),
        ];
        assert_eq!(
            asked(Method::GET, "/abc/", &navigates),
            Ok(Route::Part(String::new()))
        );
        assert_eq!(status(Method::GET, "/abc/api/cell", &navigates), 403);
        let none = ("sec-fetch-site", "none");
        assert_eq!(
            status(Method::POST, "/abc/api/stand", &[HOST, ORIGIN, JSON, none]),
            403
        );
        assert_eq!(status(Method::POST, "/abc/api/stand", &[HOST, ORIGIN]), 415);
        assert_eq!(
            status(Method::POST, "/abc/api/cell", &[HOST, ORIGIN, JSON]),
            405
        );
        assert_eq!(status(Method::GET, "/abc/api/stand", &[HOST]), 405);
        assert_eq!(status(Method::DELETE, "/abc/", &[HOST]), 405);
        assert_eq!(status(Method::GET, "/abc/api/nothing", &[HOST]), 404);
        assert_eq!(
            status(Method::POST, "/abc/api/nothing", &[HOST, ORIGIN, JSON]),
            404
        );
    }
}
