# One line of truth per module:
#
#   fuelwright_module(base_units
#     SOURCES number.cc
#     TESTS   units_test.cc number_test.cc
#     SLOW    Number.EveryOneOfAMillionIsReadBack
#     BENCHES number_bench.cc
#     DEPENDS fuelwright::base Eigen
#     TEST_DEPENDS fuelwright::sim_road)
#
# makes the library fuelwright::NAME (an interface library when it has no sources), the test program NAME_test with
# every TEST(...) known to ctest, and NAME_bench. Files are listed, never globbed.

function(fuelwright_target_options target)
  target_compile_options(${target} PRIVATE -Wall -Wextra -Wpedantic -Wshadow -Wconversion
    -Wno-sign-conversion -Wno-missing-field-initializers
    -Wno-maybe-uninitialized  # g++ 12 is wrong about std::map and std::regex
    -fno-math-errno -ffp-contract=off)
  if(FUELWRIGHT_WERROR)
    target_compile_options(${target} PRIVATE -Werror)
  endif()
endfunction()

# Makes every TEST(...) of `target` known to ctest, as quick; those that SLOW names (filters of googletest) as full, for they
# take seconds each and `./test --quick` is for before every commit.
function(fuelwright_discover target)
  cmake_parse_arguments(D "" "TIMEOUT" "SLOW" ${ARGN})
  set(more DISCOVERY_TIMEOUT 60)
  set(also "")
  if(D_TIMEOUT)
    set(also TIMEOUT ${D_TIMEOUT})
  endif()
  if(NOT D_SLOW)
    gtest_discover_tests(${target} PROPERTIES LABELS quick ${also} ${more})
    return()
  endif()
  list(JOIN D_SLOW ":" slow)
  gtest_discover_tests(${target} TEST_FILTER "-${slow}" PROPERTIES LABELS quick ${also} ${more})
  gtest_discover_tests(${target} TEST_FILTER "${slow}" TEST_LIST ${target}_SLOW PROPERTIES LABELS full ${also} ${more})
endfunction()

function(fuelwright_module name)
  cmake_parse_arguments(M "" "" "SOURCES;TESTS;SLOW;BENCHES;DEPENDS;TEST_DEPENDS" ${ARGN})
  if(M_SOURCES)
    add_library(${name} STATIC ${M_SOURCES})
    set_property(GLOBAL APPEND PROPERTY FUELWRIGHT_MODULES ${name})
    fuelwright_target_options(${name})
    target_include_directories(${name} PUBLIC ${PROJECT_SOURCE_DIR}/src)
    target_link_libraries(${name} PUBLIC ${M_DEPENDS})
  else()
    add_library(${name} INTERFACE)
    target_include_directories(${name} INTERFACE ${PROJECT_SOURCE_DIR}/src)
    target_link_libraries(${name} INTERFACE ${M_DEPENDS})
  endif()
  add_library(fuelwright::${name} ALIAS ${name})

  if(FUELWRIGHT_TESTS AND M_TESTS)
    add_executable(${name}_test ${M_TESTS})
    fuelwright_target_options(${name}_test)
    target_link_libraries(${name}_test PRIVATE ${name} ${M_TEST_DEPENDS} GTest::gtest GTest::gmock GTest::gtest_main)
    target_compile_definitions(${name}_test PRIVATE FUELWRIGHT_SOURCE_DIR="${PROJECT_SOURCE_DIR}")
    fuelwright_discover(${name}_test SLOW ${M_SLOW})
  endif()
  if(FUELWRIGHT_BENCH AND M_BENCHES)
    add_executable(${name}_bench ${M_BENCHES})
    fuelwright_target_options(${name}_bench)
    target_link_libraries(${name}_bench PRIVATE ${name} benchmark::benchmark_main)
  endif()
endfunction()
