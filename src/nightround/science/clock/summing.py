"""Sums of rows by animal and by taxon, and of animals by taxon: products with sparse matrices of ones."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from nightround.science.thermal import FloatArray, IntArray

if TYPE_CHECKING:
    from scipy.sparse import csr_array


@dataclass(frozen=True)
class Summing:
    """Give one of these to `total`: rows_by_animal [A, N], rows_by_taxon [J, N], animals_by_taxon [J, A]."""

    rows_by_animal: csr_array[np.float64]
    rows_by_taxon: csr_array[np.float64]
    animals_by_taxon: csr_array[np.float64]


def make_summing(animal: IntArray, taxon: IntArray, animal_taxon: IntArray, taxa: int) -> Summing:
    """animal, taxon [N] of each row; animal_taxon [A]."""
    return Summing(_ones(animal, animal_taxon.size), _ones(taxon, taxa), _ones(animal_taxon, taxa))


def _ones(index: IntArray, size: int) -> csr_array[np.float64]:
    from scipy.sparse import csr_array

    return csr_array((np.ones(index.size), (index, np.arange(index.size))), shape=(size, index.size))


def total(by: csr_array[np.float64], values: FloatArray) -> FloatArray:
    """Sums of values [n] or [n, d] by group."""
    return np.asarray(by @ values)
