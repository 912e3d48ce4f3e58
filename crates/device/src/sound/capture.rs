//! Microphones through cpal.

use cpal::traits::{DeviceTrait, HostTrait, StreamTrait};
use cpal::{BufferSize, ErrorKind, FromSample, HostId, Sample, SampleFormat, SizedSample, StreamConfig, SupportedBufferSize};
use crossbeam_channel::Sender;
use std::time::Instant;
use units::SampleRate;

use super::{CONVERTED, FORMATS, STREAM_TIMEOUT, explain, find, is_last_resort};
use crate::backend::OpenError;
use crate::capture::{CaptureEvent, Listening, WAITING};
use crate::output::Wanted;
use crate::tap::{Tap, tap};

/// Finds the wanted microphone, opens it and lets it run until the stream is dropped. May never return.
pub(crate) fn open(
    wanted: &Wanted,
    rate: SampleRate,
    frames: u32,
    news: &Sender<CaptureEvent>,
) -> Result<(Box<dyn Send>, Listening), OpenError> {
    let mut worst = OpenError::NoHost;
    for id in cpal::available_hosts() {
        match open_on(id, wanted, rate, frames, news) {
            Ok(opened) => return Ok(opened),
            // what is behind a server that hangs would hang as well
            Err(OpenError::Hangs) => return Err(OpenError::Hangs),
            Err(error) => worst = worst.max(error),
        }
    }
    Err(worst)
}

fn open_on(
    id: HostId,
    wanted: &Wanted,
    rate: SampleRate,
    frames: u32,
    news: &Sender<CaptureEvent>,
) -> Result<(Box<dyn Send>, Listening), OpenError> {
    let host = cpal::host_from_id(id).map_err(|error| explain(&error, id.name()))?;
    let device = match wanted {
        Wanted::Named(name) => {
            find(&host, id, name, DeviceTrait::supports_input)?.ok_or_else(|| OpenError::NoMicrophone(format!(" called \"{name}\"")))?
        }
        Wanted::Default | Wanted::None => host.default_input_device().ok_or_else(|| OpenError::NoMicrophone(String::new()))?,
    };
    let name = device.description().map_or_else(|_| id.name().to_owned(), |description| description.name().to_owned());
    let explain = |error: cpal::Error| explain(&error, &name);
    let ranges: Vec<_> = device.supported_input_configs().map_err(explain)?.collect();
    let (mut config, format, rate) = choose(&ranges, rate, frames).ok_or_else(|| OpenError::Format(name.clone()))?;
    let mut built = build(&device, config, format, rate, news);
    // a card that refuses a size has a sensible one
    if is_last_resort(id) && built.as_ref().is_err_and(|error| error.kind() == ErrorKind::UnsupportedConfig) {
        config.buffer_size = BufferSize::Default;
        built = build(&device, config, format, rate, news);
    }
    let (stream, sound) = built.map_err(explain)?;
    stream.play().map_err(explain)?;
    Ok((Box::new(stream), Listening { device: name, host: id.name().to_owned(), sound }))
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

fn build(device: &cpal::Device, config: StreamConfig, format: SampleFormat, rate: SampleRate, news: &Sender<CaptureEvent>) -> Built {
    let (tap, tapped) = tap(rate, WAITING);
    let stream = match format {
        SampleFormat::I32 => convert::<i32>(device, config, tap, news),
        SampleFormat::I16 => convert::<i16>(device, config, tap, news),
        SampleFormat::U16 => convert::<u16>(device, config, tap, news),
        _ => {
            let (mut tap, channels, origin) = (tap, usize::from(config.channels), Instant::now());
            let take = move |heard: &[f32], _: &cpal::InputCallbackInfo| tap.take(heard, channels, origin.elapsed().as_nanos() as u64);
            device.build_input_stream(config, take, complain(news), Some(STREAM_TIMEOUT))
        }
    };
    Ok((stream?, tapped))
}

fn convert<T: SizedSample>(
    device: &cpal::Device,
    config: StreamConfig,
    mut tap: Tap,
    news: &Sender<CaptureEvent>,
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
    device.build_input_stream(config, take, complain(news), Some(STREAM_TIMEOUT))
}

/// The error callback: only what ends a stream is news.
fn complain(news: &Sender<CaptureEvent>) -> impl FnMut(cpal::Error) + Send + 'static {
    let news = news.clone();
    move |error| {
        if matches!(error.kind(), ErrorKind::DeviceNotAvailable | ErrorKind::StreamInvalidated | ErrorKind::HostUnavailable)
            && !news.is_full()
        {
            let _ = news.try_send(CaptureEvent::Lost { why: error.to_string() });
        }
    }
}
