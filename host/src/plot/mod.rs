//! The chart of one zone: the answer to the question, the log, and each requirement on one time axis.
//!
//! Pure: the same [`Chart`] gives the same bytes, and no date of drawing is in them. The font is
//! carried in the program and in the SVG.

mod axis;
mod canvas;
mod course;
mod data;
mod font;
mod header;
mod label;
mod legend;
mod milestone;
mod notice;
mod panel;
mod picture;
mod png;
mod scale;
mod series;
mod strip;
mod terminal;
mod theme;
mod time;

use crate::assess::{Assessment, ZoneAssessment};
use crate::history::History;
use crate::job::Job;
use crate::limits::ResolvedLimits;
use canvas::Target;
pub(crate) use canvas::{Align, Shape};
pub use course::Course;
pub(crate) use font::{BOLD, REGULAR};
use plotters::prelude::SVGBackend;
pub use terminal::{Sheet, terminal};

/// Size and colours of a chart.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Style {
    /// Width in pixels, [`SIDE_MIN`] to [`SIDE_MAX`].
    pub width: u32,
    /// Height in pixels, [`SIDE_MIN`] to [`SIDE_MAX`].
    pub height: u32,
    /// Light lines on a dark ground, for screens.
    pub dark: bool,
}

/// Shortest side of a chart, in pixels.
pub const SIDE_MIN: u32 = 600;

/// Longest side of a chart, in pixels: A4 at 300 dpi is 2480 by 3508.
pub const SIDE_MAX: u32 = 4000;

impl Default for Style {
    fn default() -> Self {
        Self { width: 1400, height: 1000, dark: false }
    }
}

/// All that a chart shows: one zone over a span of time.
///
/// Units are those of the job, times those of the site.
#[derive(Clone, Copy, Debug)]
pub struct Chart<'a> {
    job: &'a Job,
    limits: &'a ResolvedLimits,
    history: &'a History,
    assessment: &'a Assessment,
    zone: &'a ZoneAssessment,
    from_s: i64,
    to_s: i64,
    style: Style,
    /// Size of the letters against those that a picture of this size has by itself, in per cent.
    letters_pct: u32,
    course: Option<&'a Course>,
}

/// Why there is no chart.
#[derive(Debug, thiserror::Error)]
pub enum PlotError {
    /// The span of time is empty or runs backwards.
    #[error("the chart would run from {from_s} to {to_s} (seconds of UTC): give a later end")]
    Span {
        /// Start, in seconds of UTC.
        from_s: i64,
        /// End, in seconds of UTC.
        to_s: i64,
    },
    /// A time lies outside the years that have a calendar here.
    #[error("{0} s of UTC is not within the years -9999 to 9999: give a time near the log's")]
    Time(i64),
    /// A side is too short or too long.
    #[error(
        "a chart of {width} x {height} pixels cannot be drawn: give sides of {SIDE_MIN} to {SIDE_MAX}"
    )]
    Size {
        /// Width asked for, in pixels.
        width: u32,
        /// Height asked for, in pixels.
        height: u32,
    },
    /// The font in the program is damaged.
    #[error("the font built into the program cannot be read: install the program again")]
    Font,
    /// The drawing library failed.
    #[error("the chart cannot be drawn: {0}; please report this")]
    Draw(String),
    /// The picture could not be written as PNG.
    #[error("the picture cannot be written as PNG: {0}; please report this")]
    Png(#[from] ::png::EncodingError),
}

impl<'a> Chart<'a> {
    /// A chart of one zone of an assessment, from `from_s` to `to_s` in seconds of UTC.
    ///
    /// `history` is the log of that zone.
    ///
    /// # Errors
    /// [`PlotError::Span`], [`PlotError::Time`] or [`PlotError::Size`] for times or sides that no
    /// chart can have.
    pub fn new(
        job: &'a Job,
        limits: &'a ResolvedLimits,
        history: &'a History,
        (assessment, zone): (&'a Assessment, &'a ZoneAssessment),
        (from_s, to_s): (i64, i64),
        style: Style,
    ) -> Result<Self, PlotError> {
        let sides = SIDE_MIN..=SIDE_MAX;
        if !sides.contains(&style.width) || !sides.contains(&style.height) {
            return Err(PlotError::Size { width: style.width, height: style.height });
        }
        for time_s in [from_s, to_s, assessment.at_s] {
            if jiff::Timestamp::from_second(time_s).is_err() {
                return Err(PlotError::Time(time_s));
            }
        }
        if from_s >= to_s {
            return Err(PlotError::Span { from_s, to_s });
        }
        Ok(Self {
            job,
            limits,
            history,
            assessment,
            zone,
            from_s,
            to_s,
            style,
            letters_pct: 100,
            course: None,
        })
    }

    /// With letters and lines of another size, in per cent (50 to 400) of what they are by themselves:
    /// larger for a picture that is shown smaller than it is, such as on a phone.
    #[must_use]
    pub fn with_letters(self, percent: u32) -> Self {
        Self { letters_pct: percent.clamp(50, 400), ..self }
    }

    /// With strips that show how each requirement stood at times before.
    #[must_use]
    pub fn with_course(self, course: &'a Course) -> Self {
        Self { course: Some(course), ..self }
    }
}

/// The chart as shapes, to be drawn as they are: coordinates in pixels of its style, y downwards.
///
/// # Errors
/// [`PlotError::Font`]; it does not depend on what is shown.
pub(crate) fn shapes(chart: &Chart<'_>) -> Result<Vec<Shape>, PlotError> {
    font::register()?;
    Ok(picture::draw(chart).into_shapes())
}

/// Style sheet with the font of the charts in it: it stands once in a page, however many charts.
pub(crate) fn font_faces() -> String {
    font::style_sheet()
}

/// The chart as a PNG file.
///
/// # Errors
/// [`PlotError::Font`], [`PlotError::Draw`] or [`PlotError::Png`]; none depends on what is shown.
pub fn png(chart: &Chart<'_>) -> Result<Vec<u8>, PlotError> {
    font::register()?;
    png::encode(&picture::draw(chart), chart.style.width, chart.style.height)
}

/// The chart as an SVG file, with its font in it.
///
/// # Errors
/// [`PlotError::Font`] or [`PlotError::Draw`]; none depends on what is shown.
pub fn svg(chart: &Chart<'_>) -> Result<String, PlotError> {
    // Quarters of a pixel, because the backend only knows whole numbers.
    const SCALE: u32 = 4;
    font::register()?;
    let Style { width, height, .. } = chart.style;
    let mut drawn = String::new();
    {
        let mut backend = SVGBackend::with_string(&mut drawn, (width * SCALE, height * SCALE));
        // The backend sets the top of the text this far above its baseline.
        let target = Target { scale: f64::from(SCALE), baseline_em: 0.76, brush: false };
        picture::draw(chart).play(&mut backend, target)?;
        plotters::prelude::DrawingBackend::present(&mut backend)
            .map_err(|error| PlotError::Draw(error.to_string()))?;
    }
    // The backend's own first line has neither a font nor the finished size.
    let Some((_, shapes)) = drawn.split_once('\n') else {
        return Err(PlotError::Draw("the drawing is empty".to_owned()));
    };
    let (view_width, view_height) = (width * SCALE, height * SCALE);
    let style = font::style_sheet();
    Ok(format!(
        "<svg width=\"{width}\" height=\"{height}\" viewBox=\"0 0 {view_width} {view_height}\" \
         xmlns=\"http://www.w3.org/2000/svg\">\n<style>\n{style}\
         polyline{{stroke-linejoin:round}}\n</style>\n{shapes}"
    ))
}
