//! FLAC files of plain samples, so that tests need no encoder. Source: RFC 9639, sections 8.2 (stream info), 9.1 (frame header), 9.2.3 (verbatim
//! subframe), 9.3 (frame footer).

/// Frames of sound in a frame of the file.
const BLOCK: usize = 4_096;

/// A file of `sound`, which is the same in every channel but for those it is silent in; `bits` are 8, 16 or 24.
pub(super) fn file(sound: &[f32], bits: u8, rate: u32, channels: u8, silent: impl Fn(u8) -> bool) -> Vec<u8> {
    let mut bytes = b"fLaC\x80\x00\x00\x22".to_vec();
    bytes.extend([BLOCK as u16; 2].iter().flat_map(|size| size.to_be_bytes()));
    bytes.extend([0; 6]);
    let told = u64::from(rate) << 44 | u64::from(channels - 1) << 41 | u64::from(bits - 1) << 36 | sound.len() as u64;
    bytes.extend(told.to_be_bytes());
    bytes.extend([0; 16]);
    for (number, block) in sound.chunks(BLOCK).enumerate() {
        let mut frame = vec![0xff, 0xf8, 0x70, (channels - 1) << 4];
        // frames are counted as UTF-8 counts letters
        let number = char::from_u32(number as u32).expect("fewer frames than letters");
        frame.extend(number.encode_utf8(&mut [0; 4]).bytes());
        frame.extend((block.len() as u16 - 1).to_be_bytes());
        frame.push(check(&frame, 0x07, 8) as u8);
        for channel in 0..channels {
            frame.push(0x02);
            for sample in block {
                let full = f64::from((1_u32 << (bits - 1)) - 1);
                let whole = if silent(channel) { 0 } else { (f64::from(*sample) * full).round() as i32 };
                frame.extend(&whole.to_be_bytes()[4 - usize::from(bits / 8)..]);
            }
        }
        frame.extend((check(&frame, 0x8005, 16) as u16).to_be_bytes());
        bytes.extend(frame);
    }
    bytes
}

/// A cyclic redundancy check of so many bits.
fn check(bytes: &[u8], polynomial: u32, bits: u32) -> u32 {
    let top = 1 << (bits - 1);
    bytes.iter().fold(0, |check, byte| {
        (0..8).fold(check ^ u32::from(*byte) << (bits - 8), |check: u32, _| {
            let shifted = check << 1 & (2 * top - 1);
            if check & top == 0 { shifted } else { shifted ^ polynomial }
        })
    })
}
