//! `precentor climb`: the stages from under-tempo to concert tempo.

use clap::Args;
use schemars::JsonSchema;
use sequencer::climb::{ClimbRule, Pass, StepRange};
use serde::Serialize;
use units::Tempo;

use super::exit::Usage;
use super::print::{self, Table};

/// The stages from under-tempo to concert tempo, and the passes of each
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  precentor climb 152                          76, 95, 114, 133, 152
  precentor climb 132 --floor 66               from half the goal, which the usual floor of 72 would not allow
  precentor climb 120 --start 60 --step 10..15 --json

By itself a climb starts at half the goal, but not under 72, and takes as few steps of at most 24 as lead there, as even as whole
numbers allow: common practice. Rest lips between stages; how long children play is for their teacher to judge.")]
pub struct ClimbArgs {
    /// The concert tempo in beats per minute, 30 to 240
    #[arg(value_name = "BPM")]
    goal: Tempo,
    /// The slowest it may start by itself
    #[arg(long, value_name = "BPM", default_value = "72")]
    floor: Tempo,
    /// The smallest and the largest step in whole beats per minute; the largest is never exceeded
    #[arg(long, value_name = "MIN..MAX", default_value_t = StepRange::default())]
    step: StepRange,
    /// Where it starts, whatever the floor
    #[arg(long, value_name = "BPM")]
    start: Option<Tempo>,
    /// Print JSON, one object on one line
    #[arg(long, help_heading = "Output")]
    json: bool,
}

/// What `climb --json` prints.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct ClimbOutput {
    /// The concert tempo in beats per minute.
    pub goal: f64,
    /// From the slowest to the goal.
    pub stages: Vec<StageOutput>,
}

/// One stage.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct StageOutput {
    /// Beats per minute.
    pub tempo: f64,
    /// What is done at that tempo, in order: `count`, `clap`, `air`, `play`.
    pub passes: Vec<&'static str>,
}

pub(super) fn run(args: &ClimbArgs) -> anyhow::Result<()> {
    let rule = ClimbRule { goal: args.goal, start: args.start, floor: args.floor, steps: args.step };
    let stages = rule.stages().map_err(|error| Usage(error.to_string()))?;
    let passes = |stage: usize| if stage == 0 { &Pass::FIRST_STAGE[..] } else { &Pass::LATER_STAGES[..] };
    let stage = |(number, tempo): (usize, Tempo)| StageOutput {
        tempo: tempo.bpm(),
        passes: passes(number).iter().map(|pass| pass.word()).collect(),
    };
    let output = ClimbOutput { goal: args.goal.bpm(), stages: stages.into_iter().enumerate().map(stage).collect() };
    if args.json {
        return print::json(&output);
    }
    let mut table = Table::new(&["stage", "tempo", "passes"]);
    for (number, stage) in output.stages.iter().enumerate() {
        table.row([(number + 1).to_string(), stage.tempo.to_string(), stage.passes.join(", ")]);
    }
    print::text(&table.lines())
}
