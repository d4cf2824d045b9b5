@echo off
rem Finds a Python that this kit has packages for, and sets the estimator up with it.
rem   setup.cmd      first workbook in US customary units
rem   setup.cmd si   first workbook in SI units
setlocal
for %%V in (3.14 3.13 3.12 3.11) do (
    py "-%%V" -c "import sys" >nul 2>nul
    if not errorlevel 1 (
        set "VERSION=-%%V"
        goto launcher
    )
)
python -c "import sys; sys.exit(sys.version_info < (3, 11))" >nul 2>nul
if not errorlevel 1 goto path
echo No Python was found that the estimator runs on.
echo Install Python 3.13, the 64-bit installer for Windows, for yourself only: it needs no
echo administrator rights. Leave the launcher py ticked. Then run this file again.
pause
exit /b 1
:launcher
py "%VERSION%" "%~dp0set_up.py" %*
goto end
:path
python "%~dp0set_up.py" %*
:end
set "CODE=%ERRORLEVEL%"
pause
exit /b %CODE%
