//! `nest`: lengths laid out on stock.

use clap::Args;
use serde::Serialize;

use super::CommandError;
use crate::shop::nest;

/// Most pieces of one question.
const MOST_PIECES: usize = 10_000;

/// Arguments of `nest`.
#[derive(Debug, Args)]
pub struct NestArguments {
    /// Lengths to be cut, mm, `LENGTH` or `LENGTHxCOUNT`.
    #[arg(required = true, value_parser = parse_lengths)]
    lengths: Vec<(f64, usize)>,
    /// Length of the stock, mm.
    #[arg(long, default_value = "1500", value_parser = super::number)]
    stock_mm: f64,
    /// Lost at each cut, mm.
    #[arg(long, default_value = "1", value_parser = super::number)]
    kerf_mm: f64,
    /// Answer in JSON.
    #[arg(long)]
    json: bool,
}

#[derive(Serialize)]
struct BarAnswer {
    pieces_mm: Vec<f64>,
    offcut_mm: f64,
}

#[derive(Serialize)]
struct NestAnswer {
    lengths: usize,
    bound: usize,
    bars: Vec<BarAnswer>,
}

/// Lays lengths out on stock.
pub(super) fn run(arguments: &NestArguments) -> Result<String, CommandError> {
    let lengths: Vec<f64> = arguments
        .lengths
        .iter()
        .flat_map(|(mm, count)| std::iter::repeat_n(*mm, *count))
        .take(MOST_PIECES + 1)
        .collect();
    if lengths.len() > MOST_PIECES {
        return Err(CommandError::TooMany(MOST_PIECES));
    }
    let nesting = nest::nest(&lengths, arguments.stock_mm, arguments.kerf_mm)?;
    let bars: Vec<BarAnswer> = nesting
        .bars
        .iter()
        .map(|bar| BarAnswer {
            pieces_mm: bar.pieces.iter().map(|piece| lengths[*piece]).collect(),
            offcut_mm: bar.offcut_mm,
        })
        .collect();
    if arguments.json {
        return super::json(&NestAnswer {
            lengths: bars.len(),
            bound: nesting.bound,
            bars,
        });
    }
    let mut lines = vec![nesting.words()];
    lines.extend(bars.iter().enumerate().map(|(i, bar)| {
        let pieces: Vec<String> = bar.pieces_mm.iter().map(f64::to_string).collect();
        format!("{:>4}. {}; {} mm left over", i + 1, pieces.join(" + "), bar.offcut_mm)
    }));
    Ok(lines.join("\n") + "\n")
}

fn parse_lengths(text: &str) -> Result<(f64, usize), String> {
    let (length, count) = text.split_once('x').unwrap_or((text, "1"));
    let count = count
        .parse()
        .map_err(|_| format!("\"{count}\" is not a number of pieces"))?;
    Ok((super::number(length)?, count))
}

#[cfg(test)]
mod tests {
    use super::parse_lengths;

    #[test]
    fn lengths_may_have_a_count() {
        assert_eq!(parse_lengths("350.5x7"), Ok((350.5, 7)));
        assert_eq!(parse_lengths("350"), Ok((350.0, 1)));
        for bad in ["", "x", "350x", "350x-1", "ax2", "350x1.5"] {
            assert!(parse_lengths(bad).is_err(), "{bad}");
        }
    }
}
