//! What the processor can do, found out at run time.
//!
//! `unsafe` is written here and where `Arithmetic::avx2` is asked for, and nowhere else.
#![allow(unsafe_code)]

/// Which instructions the heavy loops use. Both ways make the same sound to within rounding: a test holds them to -110 dB.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Arithmetic {
    /// Never true unless the processor has AVX2 and FMA.
    avx2: bool,
}

impl Arithmetic {
    /// What every processor of the family can do.
    #[must_use]
    pub const fn plain() -> Self {
        Self { avx2: false }
    }

    /// The quickest this processor can do: AVX2 with FMA where it has them.
    #[must_use]
    pub fn best() -> Self {
        #[cfg(target_arch = "x86_64")]
        let avx2 = std::arch::is_x86_feature_detected!("avx2") && std::arch::is_x86_feature_detected!("fma");
        #[cfg(not(target_arch = "x86_64"))]
        let avx2 = false;
        Self { avx2 }
    }

    /// The instructions' name, as a report shows it.
    #[must_use]
    pub const fn name(self) -> &'static str {
        if self.avx2 { "AVX2" } else { "plain" }
    }

    /// Whether AVX2 and FMA code may run: where this is true, calling it is sound.
    #[cfg(target_arch = "x86_64")]
    #[inline]
    pub(crate) const fn avx2(self) -> bool {
        self.avx2
    }

    /// Does `work`, compiled for the chosen instructions. Its sums are rounded alike either way.
    #[inline]
    pub(crate) fn run<W: Work>(self, work: W) {
        #[cfg(target_arch = "x86_64")]
        if self.avx2 {
            // SAFETY: the processor has both features.
            unsafe { run_avx2(work) };
            return;
        }
        work.run();
    }
}

/// A loop worth compiling twice.
pub(crate) trait Work {
    /// Runs it. `#[inline(always)]`, or it is compiled only once.
    fn run(self);
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx2,fma")]
fn run_avx2<W: Work>(work: W) {
    work.run();
}

/// While it lives, this thread takes numbers too small for full precision as zero: sums of dying sounds cost some processors a hundred
/// times as much otherwise.
pub(crate) struct FlushToZero {
    #[cfg(target_arch = "x86_64")]
    before: u32,
}

impl FlushToZero {
    pub(crate) fn new() -> Self {
        #[cfg(target_arch = "x86_64")]
        {
            /// MXCSR's bits 15 (flush to zero) and 6 (denormals are zero): Intel 64 manual, volume 1, section 10.2.3.
            const TINY_IS_ZERO: u32 = 1 << 15 | 1 << 6;
            let before = control();
            set_control(before | TINY_IS_ZERO);
            Self { before }
        }
        #[cfg(not(target_arch = "x86_64"))]
        Self {}
    }
}

impl Drop for FlushToZero {
    fn drop(&mut self) {
        #[cfg(target_arch = "x86_64")]
        set_control(self.before);
    }
}

#[cfg(target_arch = "x86_64")]
fn control() -> u32 {
    let mut value = 0_u32;
    // SAFETY: stores the control register where the pointer says, four bytes of our own.
    unsafe { std::arch::asm!("stmxcsr [{}]", in(reg) &raw mut value, options(nostack, preserves_flags)) };
    value
}

#[cfg(target_arch = "x86_64")]
fn set_control(value: u32) {
    // SAFETY: `value` is the thread's own setting with two documented bits more or less; rounding and exceptions stay as they were.
    unsafe { std::arch::asm!("ldmxcsr [{}]", in(reg) &raw const value, options(nostack, preserves_flags, readonly)) };
}
