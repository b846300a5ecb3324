#include "held_out.h"

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <map>

#include "advice/map_estimate/estimate.h"
#include "advice/map_estimate/posterior.h"
#include "car/build/sheet_file.h"
#include "signals/recording/recording.h"

namespace fuelwright::bench {
namespace {

constexpr double kCell_rpm = 250;
constexpr double kCell_kpa = 5;
constexpr int kFewestRows = 15;
constexpr double kFlatVe = 0.75;

// One drive against the mean of drives: weather, humidity, heat soak, the meter's own drift. 2 % is
// common practice, no source. A prediction of one drive from n others is off by both: sd sqrt(1 +
// 1/n).
constexpr double kDriveToDrive_sd = 0.02;

constexpr const char* kSheet = R"(
[engine]
displacement = "1.229 l"
cylinders = 4
[cam]
intake_duration_050 = "196 deg"
[injection]
injector_flow = "120 cc/min"
injector_pressure = "3.8 bar"
[fuel]
name = "E5"
)";

int cell_id(double rpm, double map_kpa) {
  return static_cast<int>(rpm / kCell_rpm) * 1000 + static_cast<int>(map_kpa / kCell_kpa);
}

double median(std::vector<double> v) {
  const auto middle = v.begin() + static_cast<std::ptrdiff_t>(v.size() / 2);
  std::nth_element(v.begin(), middle, v.end());
  if (v.size() % 2 == 1) return *middle;
  return 0.5 * (*middle + *std::max_element(v.begin(), middle));
}

// Nodes at the cells' centres.
car::Grid grid() {
  return {car::Axis::even(car::AxisKind::engine_speed, 625, 4625, 17),
          car::Axis::even(car::AxisKind::map_absolute, 12.5e3, 112.5e3, 21)};
}

car::OperatingPoint at(double n, double kpa) {
  return {.speed = rpm(n), .map = absolute(kpa * kPa)};
}

// ---- the contenders
// ------------------------------------------------------------------------------------------------

std::vector<Prediction> cell_average(const std::vector<Row>& train,
                                     const std::vector<Cell>& cells) {
  std::map<int, std::pair<double, int>> sums;
  double all = 0;
  for (const Row& r : train) {
    auto& s = sums[cell_id(r.rpm, r.map_kpa)];
    s.first += std::exp(r.ln_ve);
    ++s.second;
    all += std::exp(r.ln_ve);
  }
  all /= static_cast<double>(train.size());
  std::vector<Prediction> out;
  for (const Cell& c : cells) {
    const auto it = sums.find(c.id);
    out.push_back({std::log(it == sums.end() ? all : it->second.first / it->second.second), 0});
  }
  return out;
}

std::vector<Prediction> bilinear_average(const std::vector<Row>& train,
                                         const std::vector<Cell>& cells) {
  const car::Grid g = grid();
  std::vector<double> sum(g.size(), 0);
  std::vector<double> weight(g.size(), 0);
  double all = 0;
  for (const Row& r : train) {
    const car::NodeShares s = g.shares(at(r.rpm, r.map_kpa));
    for (int k = 0; k < s.count; ++k) {
      sum[s.node[k]] += s.share[k] * std::exp(r.ln_ve);
      weight[s.node[k]] += s.share[k];
    }
    all += std::exp(r.ln_ve);
  }
  all /= static_cast<double>(train.size());
  car::Surface surface = car::Surface::flat(g, all);
  for (std::size_t i = 0; i < g.size(); ++i) {
    if (weight[i] > 0) surface.values[i] = sum[i] / weight[i];
  }
  std::vector<Prediction> out;
  for (const Cell& c : cells) out.push_back({std::log(surface.at(at(c.rpm, c.map_kpa))), 0});
  return out;
}

// Gaussian noise of 10 %, one Matern part (8 %, 0.7 in ln rpm, 0.45 in MAP/100 kPa) and a level,
// nothing else.
std::vector<Prediction> plain_smooth(const std::vector<Row>& train,
                                     const std::vector<Cell>& cells) {
  const car::Grid g = grid();
  const advice::Prior prior{
      "plain", {{0.08, 0.7, 0.45}}, {{"level", 0, 0.2, [](double, double) { return 1.0; }}}};
  const double middle = std::log(0.6);
  advice::Information info(static_cast<int>(g.size()));
  for (const Row& r : train) {
    const car::NodeShares s = g.shares(at(r.rpm, r.map_kpa));
    std::array<advice::Entry, 4> row;
    for (int k = 0; k < s.count; ++k) row[static_cast<std::size_t>(k)] = {s.node[k], s.share[k]};
    info.add({row.data(), static_cast<std::size_t>(s.count)}, r.ln_ve - middle, 1 / (0.1 * 0.1));
  }
  const Eigen::VectorXd x = advice::posterior_mean(advice::covariance(prior, g), info);
  std::vector<Prediction> out;
  for (const Cell& c : cells) {
    const car::NodeShares s = g.shares(at(c.rpm, c.map_kpa));
    double v = middle;
    for (int k = 0; k < s.count; ++k) v += s.share[k] * x[s.node[k]];
    out.push_back({v, 0});
  }
  return out;
}

// The recording with only the rows of the training set in it; neighbours stay neighbours.
signals::Recording part_of(const signals::Recording& whole, const std::vector<Row>& rows) {
  signals::Recording part;
  part.name = whole.name;
  part.rows = rows.size();
  part.pace = whole.pace;
  part.row_step = whole.row_step;
  part.simultaneity = whole.simultaneity;
  for (std::size_t i = 0; i < rows.size(); ++i) {
    if (i == 0 || rows[i].segment != rows[i - 1].segment) part.segments.push_back({i, i, ""});
    part.segments.back().last = i + 1;
  }
  for (const signals::Channel& c : whole.channels) {
    signals::Channel copy = c;
    copy.si.clear();
    for (const Row& r : rows) copy.si.push_back(c.si[r.index]);
    part.channels.push_back(std::move(copy));
  }
  return part;
}

std::vector<Prediction> ours(const Drives& drives, const std::vector<Row>& train,
                             const std::vector<Cell>& cells) {
  const signals::Recording part = part_of(drives.recording, train);
  const car::Surface table = car::Surface::flat(grid(), kFlatVe);
  advice::ObserveOptions observe;
  observe.way = advice::Way::metered_air;
  const auto observer = advice::Observer::make(part, drives.sheet, table, observe);
  EXPECTS(observer.ok());
  advice::EstimateOptions options;
  options.prior = advice::unknown_engine_prior();
  const advice::MapEstimate estimate = advice::estimate(
      table, car::TableWhat::ve, [&](const auto& f) { observer->each(0, 0, 0, f); }, options);
  const double between =
      kDriveToDrive_sd * std::sqrt(1.0 + 1.0 / static_cast<double>(part.segments.size()));
  std::vector<Prediction> out;
  for (const Cell& c : cells) {
    const auto here = estimate.at(at(c.rpm, c.map_kpa), c.warmth);
    out.push_back({std::log(kFlatVe) + here.ln, std::hypot(here.sd, between)});
  }
  return out;
}

std::vector<Prediction> predict(const Drives& drives, Contender contender,
                                const std::vector<Row>& train, const std::vector<Cell>& cells) {
  switch (contender) {
    case Contender::cell_average:
      return cell_average(train, cells);
    case Contender::bilinear_average:
      return bilinear_average(train, cells);
    case Contender::plain_smooth:
      return plain_smooth(train, cells);
    case Contender::ours:
      return ours(drives, train, cells);
  }
  broken_contract("a contender", __FILE__, __LINE__);
}

}  // namespace

const char* name_of(Contender contender) {
  switch (contender) {
    case Contender::cell_average:
      return "cell averaging";
    case Contender::bilinear_average:
      return "bilinear averaging";
    case Contender::plain_smooth:
      return "plain smooth prior";
    case Contender::ours:
      return "map estimate (ours)";
  }
  broken_contract("a contender", __FILE__, __LINE__);
}

Result<Drives> load() {
  const char* folder = std::getenv("FUELWRIGHT_OUTSIDE_DATA");
  if (!folder) {
    return Error{ErrorCode::not_found, "FUELWRIGHT_OUTSIDE_DATA",
                 "is not set; the outside data is needed"};
  }
  FW_TRY(const std::string bytes,
         signals::read_file(std::string(folder) + "/recordings/small_car_1200.csv"));
  FW_TRY(signals::Recording recording, signals::read_recording(bytes, "small_car_1200.csv", {}));
  FW_TRY(car::Sheet sheet, car::read_sheet(kSheet, "small_car.toml"));
  Drives d{std::move(sheet), std::move(recording), {}};
  using signals::Quantity;
  const auto& n = d.recording.find(Quantity::rpm)->si;
  const auto& p = d.recording.find(Quantity::map)->si;
  const auto& air = d.recording.find(Quantity::maf)->si;
  const auto& clt = d.recording.find(Quantity::coolant)->si;
  const auto& iat = d.recording.find(Quantity::intake_air)->si;
  for (const signals::Segment& segment : d.recording.segments) {
    for (std::size_t i = segment.first; i < segment.last; ++i) {
      if (!(clt[i] > celsius(80).from_zero.si) || !(n[i] > 650) || !(air[i] > 0) || !(p[i] > 0))
        continue;
      const double ve = air[i] * 120 * 287.05 * iat[i] / (p[i] * 1.229e-3 * n[i]);
      d.rows.push_back({n[i], p[i] / 1e3, std::log(ve), std::log(iat[i] / 293.15),
                        std::atoi(segment.label.c_str()), i});
    }
  }
  return d;
}

std::vector<Cell> cells_of(const Drives& drives, int segment) {
  std::map<int, std::vector<const Row*>> by_cell;
  for (const Row& r : drives.rows) {
    if (r.segment == segment) by_cell[cell_id(r.rpm, r.map_kpa)].push_back(&r);
  }
  std::vector<Cell> out;
  for (const auto& [id, rows] : by_cell) {
    if (static_cast<int>(rows.size()) < kFewestRows) continue;
    std::vector<double> y, n, p, warmth, off;
    for (const Row* r : rows) {
      y.push_back(r->ln_ve);
      n.push_back(r->rpm);
      p.push_back(r->map_kpa);
      warmth.push_back(r->warmth);
    }
    const double middle = median(y);
    for (const double v : y) off.push_back(std::abs(v - middle));
    // A median of n rows with robust spread 1.4826 MAD has a standard error of 1.2533 times that
    // over sqrt n.
    const double se = 1.2533 * 1.4826 * median(off) / std::sqrt(static_cast<double>(y.size()));
    out.push_back(
        {id, median(n), median(p), median(warmth), middle, se, static_cast<int>(y.size())});
  }
  return out;
}

std::vector<Row> training(const Drives& drives, int scored, const std::vector<int>& pool,
                          std::size_t block, unsigned seed) {
  std::vector<int> others;
  for (const int s : pool) {
    if (s != scored) others.push_back(s);
  }
  std::vector<Row> out;
  if (block == 0) {
    for (const Row& r : drives.rows) {
      if (std::find(others.begin(), others.end(), r.segment) != others.end()) out.push_back(r);
    }
    return out;
  }
  std::mt19937_64 random(1000ULL * seed + 10ULL * static_cast<unsigned>(scored) + block);
  const int from = others[random() % others.size()];
  for (const Row& r : drives.rows) {
    if (r.segment == from) out.push_back(r);
  }
  EXPECTS(out.size() >= block);
  const std::size_t first = random() % (out.size() - block + 1);
  return {out.begin() + static_cast<std::ptrdiff_t>(first),
          out.begin() + static_cast<std::ptrdiff_t>(first + block)};
}

Score score(const Drives& drives, Contender contender, const std::vector<int>& scored,
            const std::vector<int>& pool, std::size_t block, unsigned seeds) {
  Score out;
  double rows = 0;
  double cells_seen = 0;
  for (const int segment : scored) {
    const std::vector<Cell> cells = cells_of(drives, segment);
    for (unsigned seed = 0; seed < (block == 0 ? 1 : seeds); ++seed) {
      const auto train = training(drives, segment, pool, block, seed);
      const auto predictions = predict(drives, contender, train, cells);
      for (std::size_t i = 0; i < cells.size(); ++i) {
        const double error = predictions[i].ln_ve - cells[i].ln_ve;
        const double half = 1.959964 * std::hypot(predictions[i].sd, cells[i].median_sd);
        const bool holds = std::abs(error) <= half;
        out.rms += cells[i].rows * error * error;
        out.held += holds ? cells[i].rows : 0;
        out.held_cells += holds ? 1 : 0;
        out.half_width += cells[i].rows * half;
        rows += cells[i].rows;
        cells_seen += 1;
      }
    }
  }
  out.rms = std::sqrt(out.rms / rows);
  out.held /= rows;
  out.held_cells /= cells_seen;
  out.half_width /= rows;
  return out;
}

}  // namespace fuelwright::bench
