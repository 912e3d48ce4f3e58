//! Sound: timbres, voices, drone, clips, click, breath, mixer, limiter; rendering by blocks.
