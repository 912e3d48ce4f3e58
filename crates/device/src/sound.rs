//! The sound systems of this machine, through cpal.
//!
//! On Linux the PulseAudio protocol comes first: it serves PulseAudio and PipeWire and needs no library. ALSA is the last resort.

pub(crate) mod capture;

use cpal::traits::{DeviceTrait, HostTrait, StreamTrait};
use cpal::{BufferSize, ErrorKind, FromSample, HostId, SampleFormat, SizedSample, StreamConfig, SupportedBufferSize};
use std::time::Duration;

use crate::backend::{Backend, FaultKind, Line, OpenError, Opened, Wish};
use crate::output::Wanted;

/// For a server that hangs while a stream is made, and for a card that is polled.
const STREAM_TIMEOUT: Duration = Duration::from_secs(1);
/// Samples converted at a time where the device does not take floating point.
const CONVERTED: usize = 8192;
/// Formats that can be served, the best first.
const FORMATS: [SampleFormat; 4] = [SampleFormat::F32, SampleFormat::I32, SampleFormat::I16, SampleFormat::U16];

/// Every sound system cpal offers here.
pub(crate) struct System;

impl Backend for System {
    fn open(&self, wish: &Wish, line: &Line) -> Result<Opened, OpenError> {
        let mut worst = OpenError::NoHost;
        for id in cpal::available_hosts() {
            if is_last_resort(id) && !wish.last_resort {
                continue;
            }
            match open_on(id, wish, line) {
                Ok(opened) => return Ok(opened),
                // what is behind a server that hangs would hang as well
                Err(OpenError::Hangs) => return Err(OpenError::Hangs),
                Err(error) => worst = worst.max(error),
            }
        }
        Err(worst)
    }
}

/// Whether a host may take a card that a sound server would need.
pub(crate) fn is_last_resort(host: HostId) -> bool {
    host.name().eq_ignore_ascii_case("alsa")
}

fn open_on(id: HostId, wish: &Wish, line: &Line) -> Result<Opened, OpenError> {
    let host = cpal::host_from_id(id).map_err(|error| explain(&error, id.name()))?;
    let device = match &wish.wanted {
        Wanted::Named(name) => find(&host, id, name, DeviceTrait::supports_output)?.ok_or_else(|| OpenError::NotFound(name.clone()))?,
        Wanted::Default | Wanted::None => host.default_output_device().ok_or(OpenError::NoHost)?,
    };
    let name = device.description().map_or_else(|_| id.name().to_owned(), |description| description.name().to_owned());
    let explain = |error: cpal::Error| explain(&error, &name);
    let (mut config, format) = choose(&device, &name, wish).map_err(|trouble| trouble.told(explain))?;
    let mut built = build(&device, config, format, line);
    // a server's own choice may be seconds long; a card that refuses a size has a sensible one
    if is_last_resort(id) && built.as_ref().is_err_and(|error| error.kind() == ErrorKind::UnsupportedConfig) {
        config.buffer_size = BufferSize::Default;
        built = build(&device, config, format, line);
    }
    let stream = built.map_err(explain)?;
    stream.play().map_err(explain)?;
    let device_id = device.id().map_or_else(|_| String::new(), |id| id.to_string());
    Ok(Opened { stream: Box::new(stream), device: name, id: device_id, host: id.name().to_owned(), last_resort: is_last_resort(id) })
}

/// The device called `wanted` among those that are `usable`: by its whole id, its id within the host, or its name.
fn find(host: &cpal::Host, id: HostId, wanted: &str, usable: fn(&cpal::Device) -> bool) -> Result<Option<cpal::Device>, OpenError> {
    let devices = host.devices().map_err(|error| explain(&error, id.name()))?;
    let is_wanted = |text: &str| text.eq_ignore_ascii_case(wanted);
    let found = devices.into_iter().filter(usable).find(|device| {
        device.id().is_ok_and(|id| is_wanted(&id.to_string()) || is_wanted(id.id()))
            || device.description().is_ok_and(|description| is_wanted(description.name()))
    });
    Ok(found)
}

/// A configuration at the renderer's rate: two channels and floating point if the device has them.
fn choose(device: &cpal::Device, name: &str, wish: &Wish) -> Result<(StreamConfig, SampleFormat), Trouble> {
    let ranges: Vec<_> = device.supported_output_configs().map_err(Trouble::Host)?.collect();
    let rate = wish.rate.hz();
    let rank = |range: &cpal::SupportedStreamConfigRange| {
        let format = FORMATS.iter().position(|format| *format == range.sample_format())?;
        let channels = range.channels();
        // two, else more, else one
        Some((channels != 2, channels < 2, channels, format))
    };
    let servable: Vec<_> = ranges.iter().filter_map(|range| Some((rank(range)?, range))).collect();
    if servable.is_empty() {
        return Err(Trouble::Ours(OpenError::Format(name.to_owned())));
    }
    let Some((_, range)) = servable.iter().filter(|(_, range)| range.contains_rate(rate)).min_by_key(|(rank, _)| *rank) else {
        let offered = crate::survey::common_rates(servable.iter().map(|(_, range)| (range.min_sample_rate(), range.max_sample_rate())));
        return Err(Trouble::Ours(OpenError::Rate { device: name.to_owned(), wanted: rate, offered }));
    };
    let frames = match range.buffer_size() {
        SupportedBufferSize::Range { min, max } if min <= max => wish.frames.clamp(*min, *max),
        _ => wish.frames,
    };
    let config = StreamConfig { channels: range.channels(), sample_rate: rate, buffer_size: BufferSize::Fixed(frames) };
    Ok((config, range.sample_format()))
}

/// What the host says, or what we say.
enum Trouble {
    Host(cpal::Error),
    Ours(OpenError),
}

impl Trouble {
    fn told(self, explain: impl FnOnce(cpal::Error) -> OpenError) -> OpenError {
        match self {
            Self::Host(error) => explain(error),
            Self::Ours(error) => error,
        }
    }
}

fn build(device: &cpal::Device, config: StreamConfig, format: SampleFormat, line: &Line) -> Result<cpal::Stream, cpal::Error> {
    match format {
        SampleFormat::I32 => convert::<i32>(device, config, line),
        SampleFormat::I16 => convert::<i16>(device, config, line),
        SampleFormat::U16 => convert::<u16>(device, config, line),
        _ => {
            let mut feed = line.feed(usize::from(config.channels));
            device.build_output_stream(config, move |out: &mut [f32], _| feed.fill(out), complain(line), Some(STREAM_TIMEOUT))
        }
    }
}

fn convert<T: SizedSample + FromSample<f32>>(
    device: &cpal::Device,
    config: StreamConfig,
    line: &Line,
) -> Result<cpal::Stream, cpal::Error> {
    let channels = usize::from(config.channels);
    let mut feed = line.feed(channels);
    let mut samples = vec![0.0; CONVERTED / channels * channels];
    let fill = move |out: &mut [T], _: &cpal::OutputCallbackInfo| {
        for part in out.chunks_mut(samples.len()) {
            let Some(samples) = samples.get_mut(..part.len()) else { continue };
            feed.fill(samples);
            for (sample, value) in part.iter_mut().zip(samples) {
                *sample = T::from_sample(*value);
            }
        }
    };
    device.build_output_stream(config, fill, complain(line), Some(STREAM_TIMEOUT))
}

/// The error callback.
fn complain(line: &Line) -> impl FnMut(cpal::Error) + Send + 'static {
    let line = line.clone();
    move |error| {
        let kind = match error.kind() {
            ErrorKind::DeviceNotAvailable | ErrorKind::StreamInvalidated | ErrorKind::HostUnavailable => FaultKind::Fatal,
            ErrorKind::DeviceChanged => FaultKind::Moved,
            // gaps are counted elsewhere, and the stream goes on
            ErrorKind::Xrun | ErrorKind::RealtimeDenied => return,
            _ => FaultKind::Suspicious,
        };
        line.fault(kind, || error.to_string());
    }
}

pub(crate) fn explain(error: &cpal::Error, device: &str) -> OpenError {
    let text = error.to_string();
    match error.kind() {
        _ if text.contains("timed out") => OpenError::Hangs,
        ErrorKind::HostUnavailable | ErrorKind::DeviceNotAvailable => OpenError::NoHost,
        // ALSA's default that leads to a server
        _ if text.contains("Connection refused") => OpenError::NoHost,
        ErrorKind::DeviceBusy => OpenError::Busy(device.to_owned()),
        ErrorKind::PermissionDenied => OpenError::Denied(device.to_owned()),
        _ => OpenError::Failed(text),
    }
}
