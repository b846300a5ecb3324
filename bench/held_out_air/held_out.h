/// The held-out test on a real recording: learn VE from some minutes of metered air, predict drives
/// never seen.
///
/// Recording: small_car_1200.csv of the outside data (a 1.2-litre petrol car, 1.229 l from memory;
/// no time column, about one row in 5 s). Rows with coolant above 80 degC and more than 650 rpm,
/// cells of 250 rpm x 5 kPa. Train on a random contiguous block of another segment (60, 240, 720
/// rows: 5, 20, 60 minutes; 20 seeds) or on all other segments; score ln VE at the held-out cells'
/// medians (15 rows or more), weighted by rows. Averaging falls back to its overall mean.
#pragma once

#include <random>
#include <string>
#include <vector>

#include "advice/map_estimate/observe.h"
#include "base/result.h"
#include "car/build/sheet.h"
#include "signals/channels/channel.h"

namespace fuelwright::bench {

/// A row that counts.
struct Row {
  double rpm;
  double map_kpa;
  double ln_ve;
  double warmth;  ///< ln(intake air temperature / 293.15 K)
  int segment;
  std::size_t index;  ///< in the recording
};

struct Cell {
  int id;
  double rpm;  ///< median position of its rows
  double map_kpa;
  double warmth;     ///< median
  double ln_ve;      ///< median
  double median_sd;  ///< sampling error of that median
  int rows;
};

struct Drives {
  car::Sheet sheet;
  signals::Recording recording;
  std::vector<Row> rows;
};

/// Reads the recording under FUELWRIGHT_OUTSIDE_DATA; not_found if the variable is not set.
Result<Drives> load();
std::vector<Cell> cells_of(const Drives& drives, int segment);
/// The training rows of one seed; minutes of rows, or everything with block = 0. Never from
/// `scored`.
std::vector<Row> training(const Drives& drives, int scored, const std::vector<int>& pool,
                          std::size_t block, unsigned seed);

struct Prediction {
  double ln_ve;
  double sd;  ///< of the held-out median, its sampling error not included; 0: none claimed
};

struct Score {
  double rms = 0;         ///< of ln VE, weighted by rows
  double held = 0;        ///< share of 95 % intervals that hold, weighted by rows
  double held_cells = 0;  ///< the same, every cell counting once
  double half_width = 0;  ///< mean half-width of the intervals
};

enum class Contender { cell_average, bilinear_average, plain_smooth, ours };
const char* name_of(Contender contender);
Score score(const Drives& drives, Contender contender, const std::vector<int>& scored,
            const std::vector<int>& pool, std::size_t block, unsigned seeds);

}  // namespace fuelwright::bench
