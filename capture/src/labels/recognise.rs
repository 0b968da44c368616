//! Reads one line of writing: a picture of the line goes in, for every column
//! the probability of every character comes out.
//! Method: a convolutional network with attention over the columns, trained
//! with connectionist temporal classification (Graves et al., "Connectionist
//! temporal classification", ICML 2006): the text recogniser of PP-OCRv6,
//! its alphabet cut down to what sizes and words are written with. Where the
//! weights come from and how they were made smaller is told in
//! `capture/models/README.md`.
//! It runs on one thread, so that the same line gives the same numbers however
//! many threads there are.

use std::sync::{Arc, OnceLock};

use image::{Rgb, RgbImage};
use rten::{Model, ModelOptions, NodeId, RunOptions, ThreadPool, Value, op_registry};

/// The network's weights.
static MODEL: &[u8] = include_bytes!("../../models/writing.onnx");

/// The characters that the network tells apart, in the order of its outputs;
/// before them comes "nothing here", after them the blank between words.
pub(super) const ALPHABET: &str =
    "0123456789/.,-+:()&¼½¾×\"'”″’′abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ";

/// Height of a line's picture in pixels, as the network was trained.
pub(super) const LINE_PX: u32 = 48;
/// Widest picture of a line: longer lines are no sizes.
pub(super) const WIDEST_PX: u32 = 560;
/// Narrowest picture: a shorter line is given paper at both ends.
pub(super) const NARROWEST_PX: u32 = 48;

/// For every column of a line, the probability of every character.
pub(super) struct Columns {
    /// The characters, with `None` for "nothing here" at place 0.
    pub(super) characters: Vec<Option<char>>,
    /// Column after column, one value per character.
    pub(super) probabilities: Vec<Vec<f32>>,
}

impl Columns {
    /// The most probable text, and the mean probability of its characters.
    pub(super) fn best_text(&self) -> (String, f32) {
        let (mut text, mut sum, mut count) = (String::new(), 0.0, 0u16);
        let mut before = 0;
        for column in &self.probabilities {
            let best = (0..column.len()).max_by(|&a, &b| column[a].total_cmp(&column[b])).unwrap_or(0);
            if best != before
                && let Some(character) = self.characters[best]
            {
                text.push(character);
                sum += column[best];
                count += 1;
            }
            before = best;
        }
        (text, if count == 0 { 0.0 } else { sum / f32::from(count) })
    }

    /// Natural log of the probability of the most probable path.
    pub(super) fn best_log_p(&self) -> f64 {
        let best = |column: &Vec<f32>| column.iter().copied().fold(1e-9f32, f32::max);
        self.probabilities.iter().map(|column| f64::from(best(column)).ln()).sum()
    }
}

/// The network, ready to read.
pub(super) struct Recogniser {
    model: Model,
    input: NodeId,
    output: NodeId,
    characters: Vec<Option<char>>,
    threads: Arc<ThreadPool>,
}

impl Recogniser {
    /// The one network of this process, loaded when the first line is read;
    /// `None` if it cannot be loaded.
    pub(super) fn shared() -> Option<&'static Recogniser> {
        static SHARED: OnceLock<Option<Recogniser>> = OnceLock::new();
        SHARED.get_or_init(Recogniser::load).as_ref()
    }

    fn load() -> Option<Recogniser> {
        // Only the operators that the network is made of become part of the program.
        let operators = op_registry!(
            Add,
            AveragePool,
            BatchNormalization,
            Concat,
            Conv,
            DequantizeLinear,
            Div,
            Erf,
            HardSigmoid,
            Identity,
            MatMul,
            MaxPool,
            Mul,
            Pow,
            ReduceMean,
            Relu,
            Reshape,
            Shape,
            Sigmoid,
            Slice,
            Softmax,
            Sqrt,
            Squeeze,
            Sub,
            Transpose,
            Unsqueeze
        );
        let model = ModelOptions::with_ops(operators).prepack_weights(true).load_static_slice(MODEL).ok()?;
        let (input, output) = (*model.input_ids().first()?, *model.output_ids().first()?);
        let mut characters = vec![None];
        characters.extend(ALPHABET.chars().map(Some));
        characters.push(Some(' '));
        let threads = Arc::new(ThreadPool::with_num_threads(1));
        Some(Recogniser { model, input, output, characters, threads })
    }

    /// Reads a line's picture, which is [`LINE_PX`] high; `None` if it is not,
    /// or the network fails on it.
    pub(super) fn read(&self, line: &RgbImage) -> Option<Columns> {
        let (width, height) = (line.width() as usize, line.height() as usize);
        if height != LINE_PX as usize || width == 0 {
            return None;
        }
        // Channels blue, green, red; values from -1 to 1.
        let mut values = vec![0.0f32; 3 * width * height];
        for (i, Rgb(rgb)) in line.pixels().enumerate() {
            for (c, value) in rgb.iter().rev().enumerate() {
                values[c * width * height + i] = f32::from(*value) / 127.5 - 1.0;
            }
        }
        let input = Value::from_shape([1, 3, height, width], values).ok()?;
        let options = RunOptions::default().with_thread_pool(Some(self.threads.clone()));
        let [output] =
            self.model.run_n(vec![(self.input, input.into())], [self.output], Some(options)).ok()?;
        let (shape, data) = output.into_shape_vec::<f32, 3>().ok()?;
        if shape[2] != self.characters.len() {
            return None;
        }
        let probabilities = data.chunks_exact(shape[2]).map(<[f32]>::to_vec).collect();
        Some(Columns { characters: self.characters.clone(), probabilities })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_network_knows_the_alphabet() {
        let reader = Recogniser::shared().unwrap();
        let paper = RgbImage::from_pixel(96, LINE_PX, Rgb([240, 240, 240]));
        let columns = reader.read(&paper).unwrap();
        assert_eq!(columns.characters.len(), ALPHABET.chars().count() + 2);
        assert_eq!(columns.best_text().0, "");
        let small = RgbImage::from_pixel(96, 20, Rgb([240, 240, 240]));
        assert!(reader.read(&small).is_none());
    }
}
