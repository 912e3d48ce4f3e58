//! Microphones through cpal.

use cpal::traits::{DeviceTrait, HostTrait, StreamTrait};
use cpal::{BufferSize, ErrorKind, FromSample, HostId, Sample, SampleFormat, SizedSample, StreamConfig, SupportedBufferSize};
use crossbeam_channel::Sender;
use std::time::Instant;
use units::SampleRate;

use super::{CONVERTED, FORMATS, STREAM_TIMEOUT, System, explain, find, is_last_resort};
use crate::backend::OpenError;
use crate::capture::{EarWish, Ears, Listening, OpenEar, WAITING};
use crate::output::Wanted;
use crate::tap::{Tap, tap};

impl Ears for System {
    fn open(&self, wish: &EarWish, ends: &Sender<String>) -> Result<OpenEar, OpenError> {
        let mut worst = OpenError::NoHost;
        for id in cpal::available_hosts() {
            if is_last_resort(id) && !wish.last_resort {
                continue;
            }
            match open_on(id, wish, ends) {
                Ok(opened) => return Ok(opened),
                // what is behind a server that hangs would hang as well
                Err(OpenError::Hangs) => return Err(OpenError::Hangs),
                Err(OpenError::Denied(device)) => worst = worst.max(OpenError::MicrophoneDenied(device)),
                Err(error) => worst = worst.max(error),
            }
        }
        Err(worst)
    }
}

fn open_on(id: HostId, wish: &EarWish, ends: &Sender<String>) -> Result<OpenEar, OpenError> {
    let host = cpal::host_from_id(id).map_err(|error| explain(&error, id.name()))?;
    let device = match &wish.wanted {
        Wanted::Named(name) => {
            find(&host, id, name, DeviceTrait::supports_input)?.ok_or_else(|| OpenError::NoMicrophone(format!(" called \"{name}\"")))?
        }
        Wanted::Default | Wanted::None => host.default_input_device().ok_or_else(|| OpenError::NoMicrophone(String::new()))?,
    };
    let name = device.description().map_or_else(|_| id.name().to_owned(), |description| description.name().to_owned());
    let explain = |error: cpal::Error| explain(&error, &name);
    let ranges: Vec<_> = device.supported_input_configs().map_err(explain)?.collect();
    let (mut config, format, rate) = choose(&ranges, wish.rate, wish.frames).ok_or_else(|| OpenError::Format(name.clone()))?;
    let mut built = build(&device, config, format, rate, ends);
    // a card that refuses a size has a sensible one
    if is_last_resort(id) && built.as_ref().is_err_and(|error| error.kind() == ErrorKind::UnsupportedConfig) {
        config.buffer_size = BufferSize::Default;
        built = build(&device, config, format, rate, ends);
    }
    let (stream, sound) = built.map_err(explain)?;
    stream.play().map_err(explain)?;
    let listening = Listening {
        device: name,
        host: id.name().to_owned(),
        id: device.id().map_or_else(|_| String::new(), |id| id.to_string()),
        sound,
        returned: None,
    };
    Ok(OpenEar { stream: Box::new(stream), listening, last_resort: is_last_resort(id) })
}

/// The configuration at the rate nearest to the wish: few channels, floating point if the device has it.
fn choose(ranges: &[cpal::SupportedStreamConfigRange], wish: SampleRate, frames: u32) -> Option<(StreamConfig, SampleFormat, SampleRate)> {
    let rank = |range: &&cpal::SupportedStreamConfigRange| {
        let format = FORMATS.iter().position(|format| *format == range.sample_format())?;
        let rate = wish.hz().clamp(range.min_sample_rate(), range.max_sample_rate());
        Some((rate.abs_diff(wish.hz()), range.channels(), format, rate))
    };
    let range = ranges.iter().filter(|range| rank(range).is_some()).min_by_key(rank)?;
    let (.., rate) = rank(&range)?;
    let frames = match range.buffer_size() {
        SupportedBufferSize::Range { min, max } if min <= max => frames.clamp(*min, *max),
        _ => frames,
    };
    let config = StreamConfig { channels: range.channels(), sample_rate: rate, buffer_size: BufferSize::Fixed(frames) };
    Some((config, range.sample_format(), SampleRate::new(rate).ok()?))
}

type Built = Result<(cpal::Stream, crate::tap::Tapped), cpal::Error>;

fn build(device: &cpal::Device, config: StreamConfig, format: SampleFormat, rate: SampleRate, ends: &Sender<String>) -> Built {
    let (tap, tapped) = tap(rate, WAITING);
    let stream = match format {
        SampleFormat::I32 => convert::<i32>(device, config, tap, ends),
        SampleFormat::I16 => convert::<i16>(device, config, tap, ends),
        SampleFormat::U16 => convert::<u16>(device, config, tap, ends),
        _ => {
            let (mut tap, channels, origin) = (tap, usize::from(config.channels), Instant::now());
            let take = move |heard: &[f32], _: &cpal::InputCallbackInfo| tap.take(heard, channels, origin.elapsed().as_nanos() as u64);
            device.build_input_stream(config, take, complain(ends), Some(STREAM_TIMEOUT))
        }
    };
    Ok((stream?, tapped))
}

fn convert<T: SizedSample>(
    device: &cpal::Device,
    config: StreamConfig,
    mut tap: Tap,
    ends: &Sender<String>,
) -> Result<cpal::Stream, cpal::Error>
where
    f32: FromSample<T>,
{
    let channels = usize::from(config.channels).max(1);
    let mut samples = vec![0.0; CONVERTED / channels * channels];
    let origin = Instant::now();
    let take = move |heard: &[T], _: &cpal::InputCallbackInfo| {
        for part in heard.chunks(samples.len()) {
            let Some(samples) = samples.get_mut(..part.len()) else { continue };
            for (sample, value) in samples.iter_mut().zip(part) {
                *sample = f32::from_sample(*value);
            }
            tap.take(samples, channels, origin.elapsed().as_nanos() as u64);
        }
    };
    device.build_input_stream(config, take, complain(ends), Some(STREAM_TIMEOUT))
}

/// The error callback: only what ends a stream is told.
fn complain(ends: &Sender<String>) -> impl FnMut(cpal::Error) + Send + 'static {
    let ends = ends.clone();
    move |error| {
        if matches!(error.kind(), ErrorKind::DeviceNotAvailable | ErrorKind::StreamInvalidated | ErrorKind::HostUnavailable)
            && !ends.is_full()
        {
            let _ = ends.try_send(error.to_string());
        }
    }
}
