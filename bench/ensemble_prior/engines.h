// The engines of the bench: two sheets, the places of their maps, engines that are what the sheet
// says and engines that are not.
#pragma once

#include <string>
#include <vector>

#include "car/build/sheet.h"
#include "physics/ensemble/ensemble.h"

namespace fuelwright::physics {

struct Run {
  int members = 96;
  int engines = 8;  // of each kind that is not what the sheet says
  int inside = 48;  // that are what it says
  int looks = 3;    // at each engine, each with its own noise and its own error of the model
  int threads = 1;
  std::string keep;     // directory to keep draws in; empty: none are kept
  bool tuning = false;  // other kinds and seeds, to make a test with, in place of the scored
};

struct Cam {
  const char* name;
  const char* toml;
  int number;
  bool big;
};
extern const std::vector<Cam> kCams;

car::Sheet sheet_of(const Cam& cam);

// ln VE as whoever believes the sheet sees it, [engine][node]; NaN where the engine does not run.
// `twins`: the same engines as the sheet has them, so that the difference is what is wrong; empty
// for engines that are what the sheet says.
struct Group {
  std::string name;
  Eigen::MatrixXd engines, twins;
};
Group inside_of(const Cam& cam, const Run& run);
// What is fitted is not what the sheet says: fixed before any of them had been run with the test.
std::vector<Group> outside_of(const Cam& cam, const Run& run);

Drawn ensemble_of(const Cam& cam, const Run& run);
std::vector<Suspect> suspects_for(const Cam& cam, const Run& run);

}  // namespace fuelwright::physics
