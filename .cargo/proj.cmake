# Settings for PROJ, the only part that is built with CMake.

# sources are compiled in groups, as PROJ itself allows: a third of the time, the same code
set(CMAKE_UNITY_BUILD ON)

# transforming some hundred positions takes milliseconds at any level; compiling at -O3 takes minutes
set(CMAKE_CXX_FLAGS_RELEASE "-O1 -DNDEBUG" CACHE STRING "")
set(CMAKE_C_FLAGS_RELEASE "-O1 -DNDEBUG" CACHE STRING "")

# build.rs packs proj.db with compression; PROJ's own copy of 9 MB is not needed
set(EMBED_RESOURCE_FILES OFF CACHE BOOL "")
