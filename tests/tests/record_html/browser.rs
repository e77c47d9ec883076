//! Chromium without a window, on a page in a file.

use serde::Deserialize;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::{Arc, Mutex, OnceLock};

const NAMES: [&str; 4] =
    ["chromium-headless-shell", "chromium", "chromium-browser", "google-chrome"];

/// What a browser makes of a page.
#[derive(Debug, Deserialize)]
pub(crate) struct Seen {
    /// Width of the window, and of the page in it.
    pub(crate) window: u32,
    pub(crate) width: u32,
    pub(crate) height: u32,
    /// Elements that reach beyond the window, but for charts, which are moved sideways.
    pub(crate) beyond: Vec<String>,
    /// Sizes of text below 11 px, apart from charts.
    pub(crate) small: Vec<String>,
    /// All text, and what of it is shown.
    pub(crate) text: String,
    pub(crate) shown: String,
    /// What was fetched.
    pub(crate) requests: Vec<String>,
    pub(crate) title: String,
    pub(crate) headings: Vec<String>,
    pub(crate) scripts: usize,
    pub(crate) images: usize,
    /// Whether the fonts of the charts are there, regular and bold.
    pub(crate) fonts: Vec<bool>,
    /// Colours of the page's ground and text, and of the last text in a chart.
    pub(crate) colors: Vec<String>,
    /// Charts that are shown: their width in the window's pixels, and that of their smallest text.
    pub(crate) charts: Vec<(f64, f64)>,
    /// Texts of each chart that is shown.
    pub(crate) chart_texts: Vec<Vec<String>>,
    /// The part of the verdict's box that its word takes.
    pub(crate) word: f64,
    /// Accessible names that are missing: of tables' heads, charts, lists of links.
    pub(crate) unnamed: Vec<String>,
}

/// Put into a copy of the page, whose policy against scripts is taken out for it.
const PROBE: &str = r#"<script>
document.fonts.ready.then(() => {
  const all = [...document.querySelectorAll('body *')].filter(e => e.tagName != 'SCRIPT');
  const name = e => e.tagName + '.' + (e.className.baseVal ?? e.className) + ': ' + e.textContent.slice(0, 40);
  const hidden = e => e.closest('.chart') || e.closest('thead') || e.closest('details');
  const right = document.documentElement.clientWidth + 0.5;
  const style = getComputedStyle(document.body);
  const shown = [...document.querySelectorAll('.chart svg')].filter(e => e.getClientRects().length);
  const seen = {
    window: innerWidth,
    width: document.documentElement.scrollWidth,
    height: document.documentElement.scrollHeight,
    beyond: all.filter(e => !hidden(e) && e.getBoundingClientRect().right > right).map(name),
    small: all.filter(e => !hidden(e) && parseFloat(getComputedStyle(e).fontSize) < 11).map(name),
    text: all.filter(e => e.parentElement == document.body).map(e => e.textContent).join('\n'),
    shown: document.body.innerText,
    requests: performance.getEntriesByType('resource').map(e => e.name.slice(0, 80))
      .filter(name => !name.startsWith('data:')),
    title: document.title,
    headings: [...document.querySelectorAll('h1,h2,h3')].map(e => e.tagName),
    scripts: document.scripts.length - 1,
    images: document.images.length,
    fonts: [document.fonts.check('12px "Glueday Chart"'), document.fonts.check('bold 12px "Glueday Chart"')],
    colors: [style.backgroundColor, style.color, getComputedStyle(shown[0].querySelector('text:last-of-type')).fill],
    charts: shown.map(svg => {
      const wide = svg.getBoundingClientRect().width, scale = wide / svg.viewBox.baseVal.width;
      const sizes = [...svg.querySelectorAll('text')].map(e => parseFloat(getComputedStyle(e).fontSize));
      return [wide, Math.min(...sizes) * scale];
    }),
    chart_texts: shown.map(svg => [...svg.querySelectorAll('text')].map(e => e.textContent)),
    word: document.querySelector('.word').offsetWidth / document.querySelector('.verdict').offsetWidth,
    unnamed: [...document.querySelectorAll('th:not([scope]),svg:not([aria-hidden]):not([aria-label]),nav:not([aria-label])')].map(name),
  };
  const out = document.createElement('pre');
  out.id = 'seen';
  out.textContent = JSON.stringify(seen);
  document.body.append(out);
});
</script></body>"#;

fn program() -> PathBuf {
    let path = std::env::var_os("PATH").unwrap_or_default();
    let found = NAMES.iter().find_map(|name| {
        std::env::split_paths(&path).map(|folder| folder.join(name)).find(|file| file.is_file())
    });
    found.unwrap_or_else(|| panic!("no browser: run tests/browser to install it"))
}

fn run(page: &Path, width: u32, height: u32, args: &[&str]) -> Vec<u8> {
    let profile = tempfile::tempdir().unwrap();
    let output = Command::new(program())
        .args(["--headless", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage"])
        .args(["--hide-scrollbars", "--force-device-scale-factor=1", "--disable-extensions"])
        // Time goes as fast as it can, so that what waits for fonts is done.
        .arg("--virtual-time-budget=5000")
        .arg(format!("--user-data-dir={}", profile.path().display()))
        .arg(format!("--window-size={width},{height}"))
        .args(args)
        .arg(format!("file://{}", page.display()))
        .output()
        .unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    output.stdout
}

/// A page, the width of the window, and more arguments of the browser.
type View = (String, u32, Vec<String>);

/// What a page looks like in a window so wide. Many tests ask that of the same few pages: the browser,
/// which takes more than a second to start, opens each of them once.
pub(crate) fn look(page: &str, width: u32, args: &[&str]) -> Arc<Seen> {
    static OPENED: Mutex<BTreeMap<View, Arc<OnceLock<Arc<Seen>>>>> = Mutex::new(BTreeMap::new());
    let view = (page.to_owned(), width, args.iter().map(|arg| (*arg).to_owned()).collect());
    let opened = Arc::clone(OPENED.lock().unwrap().entry(view).or_default());
    Arc::clone(opened.get_or_init(|| Arc::new(open(page, width, args))))
}

fn open(page: &str, width: u32, args: &[&str]) -> Seen {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("page.html");
    let policy = page.find("<meta http-equiv=\"Content-Security-Policy\"").expect("a policy");
    let end = policy + page[policy..].find('>').unwrap() + 1;
    let open = format!("{}{}", &page[..policy], &page[end..]);
    std::fs::write(&path, open.replacen("</body>", PROBE, 1)).unwrap();
    let dom = String::from_utf8(run(&path, width, 900, &[&["--dump-dom"], args].concat())).unwrap();
    let json = dom.split("<pre id=\"seen\">").nth(1).expect("the probe ran").split("</pre>").next();
    let json = json.unwrap().replace("&lt;", "<").replace("&gt;", ">").replace("&nbsp;", "\u{a0}");
    serde_json::from_str(&json.replace("&amp;", "&")).unwrap()
}

/// A picture of the page as it is, from its top.
pub(crate) fn picture(page: &str, width: u32, height: u32, args: &[&str]) -> Picture {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("page.html");
    std::fs::write(&path, page).unwrap();
    let file = folder.path().join("page.png");
    let shot = format!("--screenshot={}", file.display());
    run(&path, width, height, &[&[shot.as_str()], args].concat());
    let bytes = std::fs::read(&file).unwrap();
    let mut reader = png::Decoder::new(std::io::Cursor::new(&bytes)).read_info().unwrap();
    let mut pixels = vec![0; reader.output_buffer_size().unwrap()];
    let info = reader.next_frame(&mut pixels).unwrap();
    let samples = info.color_type.samples();
    let pixels = pixels.chunks(samples).map(|p| [p[0], p[1], p[2]]).collect();
    Picture { width: info.width, height: info.height, pixels, bytes }
}

/// Pixels of a page.
pub(crate) struct Picture {
    pub(crate) width: u32,
    pub(crate) height: u32,
    pub(crate) pixels: Vec<[u8; 3]>,
    pub(crate) bytes: Vec<u8>,
}

impl Picture {
    /// The part of the pixels that are this colour, or nearly so.
    pub(crate) fn share(&self, color: [u8; 3]) -> f64 {
        let near = |pixel: &&[u8; 3]| pixel.iter().zip(color).all(|(a, b)| a.abs_diff(b) < 8);
        self.pixels.iter().filter(near).count() as f64 / self.pixels.len() as f64
    }

    /// Writes it where GLUEDAY_PICTURES says, to be looked at.
    pub(crate) fn keep(&self, name: &str) {
        if let Some(folder) = std::env::var_os("GLUEDAY_PICTURES") {
            std::fs::create_dir_all(&folder).unwrap();
            std::fs::write(Path::new(&folder).join(name), &self.bytes).unwrap();
        }
    }
}
