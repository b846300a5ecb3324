/// The pipes, chambers and openings of an engine as a network for the flow kernel, lane by lane.
#pragma once

#include <span>
#include <vector>

#include "physics/breathing/internal/parts.h"
#include "physics/breathing/kernel/network.h"

namespace fuelwright::physics {

/// Valve areas of every lane, [degree][lane] with `width` lanes, for kernel::Valves.
class ValveTables {
 public:
  ValveTables(std::span<const EngineModel::Parts* const> lanes, int width);
  kernel::Valves view() const;
  double capture_deg() const { return capture_deg_; }

 private:
  std::vector<float> intake_in_, intake_back_, exhaust_out_, exhaust_back_;
  double capture_deg_ = 0;
};

/// One lane of a batch: which engine, at which pressure.
struct LanePlace {
  const EngineModel::Parts* engine;
  double map_pa;
};

/// What all lanes of a batch share.
struct Batch {
  double rpm;
  Surroundings surroundings;
  double grid_m;
  int most_cycles;
};

/// Cell length at this speed: grid clamp(3200/rpm, 1, 3) (breathing.12)
double cell_length(double grid_m, double rpm);

/// One cylinder: plenum at the lane's pressure - runner - cylinder - primary - junction - collector
/// - open air.
void one_cylinder(std::span<const LanePlace> lanes, const Batch& batch, const ValveTables& valves,
                  kernel::Network* out);
/// Every cylinder. The lanes may differ in everything but the arrangement and the number of
/// cylinders, which are those of the first lane.
void whole_engine(std::span<const LanePlace> lanes, const Batch& batch, const ValveTables& valves,
                  kernel::Network* out);

}  // namespace fuelwright::physics
