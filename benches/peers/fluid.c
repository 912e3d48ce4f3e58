/* FluidSynth's cost per voice: sustained organ notes, no reverb, no chorus, its usual fourth-order interpolation. Prints
   "fluidsynth VOICES NANOSECONDS" per voice and frame at 48 kHz, by the thread's own clock, the best of three seconds.
   usage: fluid SOUNDFONT */
#include <fluidsynth.h>
#include <stdio.h>
#include <time.h>

static double cpu_time(void) {
    struct timespec t;
    clock_gettime(CLOCK_THREAD_CPUTIME_ID, &t);
    return t.tv_sec * 1e9 + t.tv_nsec;
}

int main(int count, char **words) {
    static float left[64], right[64];
    const int notes[] = {0, 64, 200};
    double none = 0;
    if (count != 2) return 2;
    fluid_settings_t *settings = new_fluid_settings();
    fluid_settings_setnum(settings, "synth.sample-rate", 48000);
    fluid_settings_setint(settings, "synth.cpu-cores", 1);
    fluid_settings_setint(settings, "synth.polyphony", 4096);
    fluid_settings_setint(settings, "synth.reverb.active", 0);
    fluid_settings_setint(settings, "synth.chorus.active", 0);
    fluid_synth_t *synth = new_fluid_synth(settings);
    if (fluid_synth_sfload(synth, words[1], 1) < 0) return 1;
    for (int round = 0; round < 3; round++) {
        int started = 0;
        double best = 1e18;
        fluid_synth_system_reset(synth);
        for (int channel = 0; channel < 16 && started < notes[round]; channel++) {
            if (channel == 9) continue;
            fluid_synth_program_change(synth, channel, 16); /* a drawbar organ: one voice a note */
            for (int key = 36; key < 96 && started < notes[round]; key++)
                if ((key + channel) % 4 == 0 && fluid_synth_noteon(synth, channel, key, 80) == FLUID_OK) started++;
        }
        for (int second = 0; second < 4; second++) {
            double begun = cpu_time();
            for (int frame = 0; frame < 48000; frame += 64) fluid_synth_write_float(synth, 64, left, 0, 1, right, 0, 1);
            double time = cpu_time() - begun;
            if (second > 0 && time < best) best = time;
        }
        int voices = fluid_synth_get_active_voice_count(synth);
        if (round == 0) none = best;
        else if (voices != started) return 3;
        else printf("fluidsynth %d %.4f\n", voices, (best - none) / 48000 / voices);
    }
    return 0;
}
