//! Writes a small SoundFont 2 of a wave of our own.

/// Writes a SoundFont 2 of one sample: presets as (bank, number, name), each with one instrument that plays the sample for all keys.
pub(crate) struct FontWriter {
    /// The sample.
    pub samples: Vec<i16>,
    /// Its loop.
    pub looped: std::ops::Range<u32>,
    /// Its key and correction in cents.
    pub root: (u8, i8),
    /// Presets by bank, number and name.
    pub presets: Vec<(u16, u16, &'static str)>,
    /// Generators of the instrument's one zone: number and amount.
    pub generators: Vec<(u16, i16)>,
}

fn chunk(name: &[u8; 4], body: &[u8]) -> Vec<u8> {
    let mut all = name.to_vec();
    all.extend((body.len() as u32).to_le_bytes());
    all.extend(body);
    if body.len() % 2 == 1 {
        all.push(0);
    }
    all
}

fn list(name: &[u8; 4], parts: &[Vec<u8>]) -> Vec<u8> {
    let mut body = name.to_vec();
    body.extend(parts.concat());
    chunk(b"LIST", &body)
}

fn name(text: &str) -> Vec<u8> {
    let mut bytes = text.as_bytes().to_vec();
    bytes.resize(20, 0);
    bytes
}

fn shorts(numbers: &[u16]) -> Vec<u8> {
    numbers.iter().flat_map(|number| number.to_le_bytes()).collect()
}

impl FontWriter {
    /// Five turns of three harmonics in 509 frames, looped after a tenth of a second: 44100 * 5 / 509 Hz, an A that is 27 cents flat and
    /// says of itself that it is right.
    pub(crate) fn flat_a() -> Self {
        let sample = |frame: usize| {
            let turns = std::f64::consts::TAU * (frame * 5 % 509) as f64 / 509.0;
            (9_000.0 * turns.sin() + 6_000.0 * (2.0 * turns).sin() + 3_000.0 * (3.0 * turns).sin()) as i16
        };
        Self {
            samples: (0..4_410 + 509).map(sample).collect(),
            looped: 4_410..4_410 + 509,
            root: (69, 0),
            presets: vec![(0, 56, "Bright Horn"), (0, 73, "Wooden Pipe"), (1, 56, "Dull Horn")],
            generators: vec![(54, 1)],
        }
    }

    /// The file.
    pub(crate) fn bytes(&self) -> Vec<u8> {
        let frames = self.samples.len() as u32;
        let mut pcm = self.samples.clone();
        pcm.resize(self.samples.len() + 46, 0);
        let pcm: Vec<u8> = pcm.iter().flat_map(|sample| sample.to_le_bytes()).collect();
        let mut phdr = Vec::new();
        let mut pbag = Vec::new();
        let mut pgen = Vec::new();
        for (index, (bank, number, called)) in self.presets.iter().enumerate() {
            phdr.extend([name(called), shorts(&[*number, *bank, index as u16]), vec![0; 12]].concat());
            pbag.extend(shorts(&[index as u16, 0]));
            pgen.extend(shorts(&[41, 0]));
        }
        let count = self.presets.len() as u16;
        phdr.extend([name("EOP"), shorts(&[0, 0, count]), vec![0; 12]].concat());
        pbag.extend(shorts(&[count, 0]));
        pgen.extend(shorts(&[0, 0]));
        let mut igen: Vec<u8> = self.generators.iter().flat_map(|(kind, amount)| shorts(&[*kind, *amount as u16])).collect();
        igen.extend([shorts(&[53, 0]), shorts(&[0, 0])].concat());
        let zones = self.generators.len() as u16 + 1;
        let inst = [name("one"), shorts(&[0]), name("EOI"), shorts(&[1])].concat();
        let mut shdr = name("wave");
        shdr.extend([0, frames, self.looped.start, self.looped.end, 44_100].iter().flat_map(|number| number.to_le_bytes()));
        shdr.extend([self.root.0, self.root.1 as u8, 0, 0, 1, 0]);
        shdr.extend([name("EOS"), vec![0; 26]].concat());
        let info = list(b"INFO", &[chunk(b"ifil", &shorts(&[2, 4])), chunk(b"isng", b"own \0\0"), chunk(b"INAM", b"test\0\0")]);
        let data = list(b"sdta", &[chunk(b"smpl", &pcm)]);
        let tables = list(
            b"pdta",
            &[
                chunk(b"phdr", &phdr),
                chunk(b"pbag", &pbag),
                chunk(b"pmod", &[0; 10]),
                chunk(b"pgen", &pgen),
                chunk(b"inst", &inst),
                chunk(b"ibag", &shorts(&[0, 0, zones, 0])),
                chunk(b"imod", &[0; 10]),
                chunk(b"igen", &igen),
                chunk(b"shdr", &shdr),
            ],
        );
        let mut form = b"sfbk".to_vec();
        form.extend([info, data, tables].concat());
        chunk(b"RIFF", &form)
    }
}
